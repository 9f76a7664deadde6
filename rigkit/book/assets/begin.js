// What a page does once it is read; `rigkitBook` is for tests and for the curious.
globalThis.rigkitBook = {scenes: begin(), twoBones, limbMotions, projector};

// Unfold what a link or the address points into.
const unfold = () => { for (let part = document.getElementById(decodeURIComponent(location.hash.slice(1))); part; part = part.parentElement) if (part.tagName === "DETAILS") part.open = true; };
addEventListener("hashchange", unfold);
unfold();

const folds = [...document.querySelectorAll("details.worked")], all = document.querySelector("button.unfold-all");
if (all && folds.length) {
  all.hidden = false;
  all.addEventListener("click", () => {
    const open = all.getAttribute("aria-pressed") !== "true";
    folds.forEach(part => { part.open = open; });
    all.setAttribute("aria-pressed", open);
  });
}
