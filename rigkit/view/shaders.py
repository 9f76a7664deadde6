"""Small shaders: the model lit by three lights, the model as glass, glyphs with a dark rim, words on a dark plate.

Light is summed in linear light and turned back to sRGB at the end, so that round
parts look round. Glyphs and words are unlit: what carries meaning keeps its colour.
"""

import pythreejs as three

from rigkit.view import lettering as letters

_SURFACE = """
varying vec3 vNormal_; varying vec3 vWorld; varying vec3 vTint; varying float vHeight;
void main() {
    vNormal_ = normal; vTint = color; vHeight = position.y;
    vec4 world = modelMatrix * vec4(position, 1.0);
    vWorld = world.xyz;
    gl_Position = projectionMatrix * viewMatrix * world;
}"""

# A corner or a glyph that hangs on up to four joints, moved by a motion kept in a texture: a row a frame, three texels a joint.
# The frame is 0.0 where the object's own x is one metre long, and grows with that length; the rest of its matrix is as ever.
_CARRIED = """
attribute vec4 joints; attribute vec4 shares;
uniform vec2 texels; uniform sampler2D motion;
vec4 texel(float column, float row) { return texture2D(motion, vec2((column + 0.5) / texels.x, (row + 0.5) / texels.y)); }
vec4 halfway(float column, float frame) { return mix(texel(column, floor(frame)), texel(column, min(floor(frame) + 1.0, texels.y - 1.0)), fract(frame)); }
float frameNow() { return clamp(length(modelMatrix[0].xyz) - 1.0, 0.0, texels.y - 1.0); }
mat4 standing() { mat4 placed = modelMatrix; placed[0] = vec4(1.0, 0.0, 0.0, 0.0); return placed; }
mat4 carried() {
    float frame = frameNow();
    vec4 x = vec4(0.0), y = vec4(0.0), z = vec4(0.0);
    for (int k = 0; k < 4; k++) {
        float share = shares[k], column = 3.0 * joints[k];
        if (share > 0.0) {
            x += share * halfway(column, frame); y += share * halfway(column + 1.0, frame); z += share * halfway(column + 2.0, frame);
        }
    }
    return mat4(vec4(x.x, y.x, z.x, 0.0), vec4(x.y, y.y, z.y, 0.0), vec4(x.z, y.z, z.z, 0.0), vec4(x.w, y.w, z.w, 1.0));
}
"""

_MOVING_SURFACE = _CARRIED + """
varying vec3 vNormal_; varying vec3 vWorld; varying vec3 vTint; varying float vHeight;
void main() {
    mat4 move = carried();
    vec4 place = move * vec4(position, 1.0);
    vNormal_ = mat3(move) * normal; vTint = color; vHeight = place.y;
    vec4 world = standing() * place;
    vWorld = world.xyz;
    gl_Position = projectionMatrix * viewMatrix * world;
}"""

_MOVING_GLYPH_POINT = _CARRIED + """
attribute vec2 glyph;
varying vec3 vTint; varying float vShape; varying float vSize;
void main() {
    vTint = color; vShape = glyph.x; vSize = glyph.y;
    gl_Position = projectionMatrix * viewMatrix * standing() * carried() * vec4(position, 1.0);
    gl_PointSize = glyph.y * 1.5;
}"""

# A spot on the floor that is there from one frame to another.
_SPOT = _CARRIED + """
attribute vec2 span;
varying vec3 vTint;
void main() {
    float frame = frameNow();
    vTint = color;
    gl_Position = projectionMatrix * viewMatrix * standing() * vec4(position, 1.0);
    if (frame < span.x || frame > span.y) gl_Position = vec4(2.0, 2.0, 2.0, 1.0);
}"""

_SPOT_COLOUR = """
varying vec3 vTint;
void main() { gl_FragColor = vec4(vTint, 0.85); }"""

# The shade that a low part throws on the floor: it goes along with its joint and fades as that rises.
_SHADE = _CARRIED + """
varying vec2 vAcross; varying float vDark;
void main() {
    vec4 place = carried() * vec4(position.x, 0.0, position.z, 1.0);
    vAcross = normal.xy; vDark = 0.75 * clamp(1.0 - place.y / 0.12, 0.0, 1.0);
    gl_Position = projectionMatrix * viewMatrix * standing() * vec4(place.x, 0.001, place.z, 1.0);
}"""

_SHADE_COLOUR = """
varying vec2 vAcross; varying float vDark;
void main() { gl_FragColor = vec4(vec3(0.01), vDark * (1.0 - smoothstep(0.35, 1.0, length(vAcross)))); }"""

_LIT = """
varying vec3 vNormal_; varying vec3 vWorld; varying vec3 vTint; varying float vHeight;
void main() {
    vec3 n = normalize(vNormal_);
    vec3 v = normalize(cameraPosition - vWorld);
    if (dot(n, v) < 0.0) n = -n;
    vec3 key = normalize(vec3(0.45, 0.75, 0.75)), fill = normalize(vec3(-0.85, 0.15, 0.5)), rim = normalize(vec3(-0.25, 0.45, -0.9));
    vec3 base = pow(vTint, vec3(2.2));
    vec3 around = mix(vec3(0.05, 0.05, 0.055), vec3(0.24, 0.26, 0.29), n.y * 0.5 + 0.5);
    vec3 light = around + vec3(1.0, 0.96, 0.9) * 0.95 * max(dot(n, key), 0.0) + vec3(0.55, 0.7, 0.9) * 0.28 * max(dot(n, fill), 0.0)
        + vec3(0.8, 0.88, 1.0) * 0.5 * max(dot(n, rim), 0.0);
    float gloss = pow(max(dot(n, normalize(key + v)), 0.0), 42.0) * 0.22;
    float edge = pow(1.0 - abs(dot(n, v)), 4.0) * 0.10;
    float floorShade = mix(0.55, 1.0, smoothstep(0.0, 0.14, vHeight));
    vec3 colour = base * light * floorShade + gloss + edge * vec3(0.75, 0.85, 1.0);
    gl_FragColor = vec4(pow(colour, vec3(1.0 / 2.2)), 1.0);
}"""

_FLAT = """
varying vec3 vNormal_; varying vec3 vWorld; varying vec3 vTint; varying float vHeight;
void main() {
    float facing = abs(dot(normalize(vNormal_), normalize(cameraPosition - vWorld)));
    gl_FragColor = vec4(mix(vTint, vec3(0.36, 0.41, 0.45), 0.6 * (1.0 - smoothstep(0.05, 0.45, facing))), 1.0);
}"""

_ONE_WALL = "0.07 + 0.34 * edge"
_GLASS = """
varying vec3 vNormal_; varying vec3 vWorld; varying vec3 vTint; varying float vHeight;
void main() {
    float facing = abs(dot(normalize(vNormal_), normalize(cameraPosition - vWorld)));
    float edge = pow(1.0 - facing, 2.0);
    gl_FragColor = vec4(mix(vTint, vec3(0.80, 0.88, 0.96), 0.35), 0.07 + 0.34 * edge);
}"""

_GLYPH_POINT = """
attribute vec2 glyph;
varying vec3 vTint; varying float vShape; varying float vSize;
void main() {
    vTint = color; vShape = glyph.x; vSize = glyph.y;
    gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0);
    gl_PointSize = glyph.y * 1.5;
}"""

_GLYPH_COLOUR = """
varying vec3 vTint; varying float vShape; varying float vSize;
float outline(vec2 p, float shape) {
    vec2 a = abs(p);
    if (shape < 0.5) return length(p) - 1.0;
    if (shape < 1.5) return max(a.x, a.y) - 0.88;
    if (shape < 2.5) return (a.x + a.y - 1.22) * 0.7071;
    if (shape < 3.5) return min(abs(length(p) - 0.82) - 0.16, max(length(p) - 1.25, min(a.x, a.y) - 0.10));
    if (shape < 4.5) return max(a.x * 0.866 + p.y * 0.5, -p.y) - 0.55;
    if (shape < 5.5) return abs(length(p) - 0.84) - 0.15;
    return min(max(abs(p.x + p.y), abs(p.x - p.y) - 1.3), max(abs(p.x - p.y), abs(p.x + p.y) - 1.3)) * 0.7071 - 0.14;
}
void main() {
    vec2 p = vec2(gl_PointCoord.x * 2.0 - 1.0, 1.0 - gl_PointCoord.y * 2.0) * 1.5;
    float d = outline(p, vShape) * vSize * 0.5;
    float inside = 1.0 - smoothstep(-0.6, 0.6, d), rim = 1.0 - smoothstep(1.2, 2.4, d);
    if (rim < 0.01) discard;
    gl_FragColor = vec4(mix(vec3(0.04), vTint, inside), max(inside, rim * 0.85));
}"""


def lit():
    """The model as a solid."""
    return three.ShaderMaterial(vertexShader=_SURFACE, fragmentShader=_LIT, vertexColors="VertexColors", side="DoubleSide")


def flat():
    """The model unlit, for colours that are numbers: what they are where a face looks at the eye, greyer along outlines."""
    return three.ShaderMaterial(vertexShader=_SURFACE, fragmentShader=_FLAT, vertexColors="VertexColors", side="DoubleSide")


def glass(closed=False):
    """The model seen through: clear where it faces the eye, brighter along its outline.

    closed: the surface has an inside, so its far wall looks like its near one; only the near one is drawn then, for both.
    Without a GPU that halves the time of a picture, which small triangles take.
    """
    return three.ShaderMaterial(
        vertexShader=_SURFACE,
        fragmentShader=_GLASS.replace(_ONE_WALL, f"1.0 - pow(1.0 - ({_ONE_WALL}), 2.0)") if closed else _GLASS,
        vertexColors="VertexColors",
        side="FrontSide" if closed else "DoubleSide",
        transparent=True,
        depthWrite=False,
    )



def moving(look, motion, texels):
    """What a motion in a texture moves: look "solid", "glass" or "flat" for the model, "glyph", "spot" or "shade" beside it.

    texels: how wide and high the texture is.
    """
    vertex, fragment = {
        "solid": (_MOVING_SURFACE, _LIT), "glass": (_MOVING_SURFACE, _GLASS), "flat": (_MOVING_SURFACE, _FLAT),
        "glyph": (_MOVING_GLYPH_POINT, _GLYPH_COLOUR), "spot": (_SPOT, _SPOT_COLOUR), "shade": (_SHADE, _SHADE_COLOUR)}[look]
    uniforms = {"texels": {"value": [float(n) for n in texels]}, "motion": {"value": motion}}  # a texture arrives under the last name
    over = {} if look in ("solid", "flat") else {"transparent": True, "depthWrite": False, "depthTest": look != "glyph"}
    return three.ShaderMaterial(
        vertexShader=vertex, fragmentShader=fragment, uniforms=uniforms, vertexColors="VertexColors", side="DoubleSide", **over)


def glyph():
    """Glyphs, drawn over everything."""
    return three.ShaderMaterial(
        vertexShader=_GLYPH_POINT, fragmentShader=_GLYPH_COLOUR, vertexColors="VertexColors",
        transparent=True, depthTest=False, depthWrite=False)


def lettering(texture, size):
    """Words, drawn over everything; texture: the letters of `rigkit.view.lettering`, size: the picture's, pixels."""
    uniforms = {"size": {"value": list(map(float, size))}, "ink": {"value": texture}}  # a texture arrives under the last name
    return three.ShaderMaterial(
        vertexShader=letters.POINT,
        fragmentShader=letters.COLOUR,
        vertexColors="VertexColors",
        uniforms=uniforms,
        side="DoubleSide",
        transparent=True,
        depthTest=False,
        depthWrite=False,
    )


def surfaces():
    """The light of the model as a solid and as glass, in GLSL, for who draws without pythreejs: {"lit": ..., "glass": ..., "flat": ...}."""
    return {"lit": _LIT, "glass": _GLASS, "flat": _FLAT}
