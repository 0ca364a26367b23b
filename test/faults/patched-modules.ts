import type { LoadHook } from "node:module";
import type { Patch } from "./mutants.ts";

/*
 * Node's module hooks (nodejs.org/api/module.html#customization-hooks): the program's own files are read from where they lie,
 * and changed on their way in. Nothing is copied, and nothing is left behind by a run that is broken off.
 */

let patches: readonly Patch[] = [];

export function initialize(given: readonly Patch[]): void {
  patches = given;
}

export const load: LoadHook = async (url, context, nextLoad) => {
  const loaded = await nextLoad(url, context);
  const own = patches.filter(({ file }) => url.endsWith(`/dist/${file}`));
  if (own.length === 0 || !loaded.source) return loaded;
  const text =
    typeof loaded.source === "string"
      ? loaded.source
      : Buffer.from(loaded.source as Uint8Array).toString("utf8");
  return { ...loaded, source: own.reduce((before, { from, to }) => before.replace(from, () => to), text) };
};
