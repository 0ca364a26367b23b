import { execFileSync } from "node:child_process";
import { mkdirSync, symlinkSync } from "node:fs";

/** What may lie where a traveller was, and can't be read. */
export const UNREADABLE: readonly (readonly [what: string, put: (path: string) => void, words: RegExp])[] = [
  ["a link to itself", (path) => symlinkSync(path, path), /a link.*ELOOP/],
  ["a link that leads nowhere", (path) => symlinkSync(`${path}.gone`, path), /a link.*ENOENT/],
  ["a folder", (path) => mkdirSync(path), /a folder or a device/],
  ["a pipe, which nobody writes to", (path) => execFileSync("mkfifo", [path]), /a folder or a device/],
];
