import { existsSync, readFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

/** Folder of the program's package.json, whether it runs compiled or from source. */
export function packageRoot(): string {
  let folder = dirname(fileURLToPath(import.meta.url));
  while (!existsSync(join(folder, "package.json"))) folder = dirname(folder);
  return folder;
}

/** @returns program and version as travellers name it, like "drumtight 0.1.0" */
export function softwareName(): string {
  const { name, version }: { name: string; version: string } = JSON.parse(
    readFileSync(join(packageRoot(), "package.json"), "utf8"),
  );
  return `${name} ${version}`;
}
