// Validate each file named in the arguments (the first argument is the folder of node_modules) and print a JSON list of reports.
const fs = require("fs");
const path = require("path");
const [modules, ...files] = process.argv.slice(2);
const validator = require(path.join(modules, "gltf-validator"));

function report(file) {
  return validator.validateBytes(new Uint8Array(fs.readFileSync(file)), {
    uri: path.basename(file),
    maxIssues: 0,
    externalResourceFunction: (uri) =>
      fs.promises.readFile(path.join(path.dirname(file), decodeURIComponent(uri))).then((data) => new Uint8Array(data)),
  }).then((found) => found.issues, (wrong) => ({ numErrors: 1, numWarnings: 0, messages: [{ severity: 0, message: String(wrong), pointer: "" }] }));
}

Promise.all(files.map(report)).then((reports) => process.stdout.write(JSON.stringify(reports)));
