import { readFileSync } from "node:fs";
import type { SourceMap } from "node:module";
import { dirname, relative, resolve } from "node:path";
import { fileURLToPath } from "node:url";
import { packageRoot } from "./package-root.ts";

/**
 * Names in an error's stack the lines of the sources, where the file that is run was made of many of them and says of which in a
 * file beside it. Node would do so itself, but at the cost of every start. What can't be told stays as it is.
 * @example sourceLines("at f (file:///drumtight/dist/program/find-unit-B1.js:9:3)") // "at f (station/records/chain.ts:41:9)"
 */
export function sourceLines(stack: string): string {
  const maps = new Map<string, SourceMap>();
  // Only here: what Node knows of such maps is loaded where it is asked for, and no run that ends well needs it.
  const { SourceMap } = process.getBuiltinModule("node:module");
  return stack.replace(/file:\/\/[^\s()]+\.js:\d+:\d+/g, (place) => {
    const [, url = "", line, column] = /^(.*):(\d+):(\d+)$/.exec(place) ?? [];
    try {
      const file = fileURLToPath(url);
      const map = maps.get(file) ?? new SourceMap(JSON.parse(readFileSync(`${file}.map`, "utf8")));
      maps.set(file, map);
      const entry = map.findEntry(Number(line) - 1, Number(column) - 1);
      if (!("originalSource" in entry)) return place;
      const source = relative(packageRoot(), resolve(dirname(file), entry.originalSource));
      return `${source}:${entry.originalLine + 1}:${entry.originalColumn + 1}`;
    } catch {
      return place;
    }
  });
}
