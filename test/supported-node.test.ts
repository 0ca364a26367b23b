import { readFileSync } from "node:fs";
import { expect, it } from "vitest";

/** What a package says of the versions of Node that it runs on. */
function nodeFor(packageFile: string): string {
  return JSON.parse(readFileSync(packageFile, "utf8")).engines.node;
}

it("asks for no version of Node on which it could not be built, or lacks what the built program asks Node for", () => {
  // The bundler builds at every start, and takes none that is without process.getBuiltinModule.
  expect(nodeFor("package.json")).toBe(nodeFor("node_modules/rolldown/package.json"));
});
