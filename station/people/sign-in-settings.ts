import { dirname, resolve } from "node:path";
import { z } from "zod";
import { positive } from "../../limits/quantity-schema.ts";
import { pattern } from "../../limits/text-schema.ts";

/** How people say who they are at a station. */
export type SignInSettings = { readonly kind: "off" } | { readonly kind: "name" } | PeopleSettings;

/** A station at which people prove who they are. */
export interface PeopleSettings {
  readonly kind: "people";
  /** The people file, absolute. */
  readonly path: string;
  /** What is a badge and nothing else, so that it is never taken for a serial, shown or recorded. */
  readonly badge: RegExp;
  /** Signed out after so long without a key, a scan or a test. */
  readonly idle_s: number;
}

const DEFAULT_IDLE_s = 600;

/** `sign_in` of a station file. */
export const signInShape = z.union(
  [
    z.enum(["off", "name"]),
    z.strictObject({
      people: z.string({ error: () => "text: the people file, like people.json" }).min(1),
      badge: pattern("regular expression of a whole badge", "^B[0-9]{6}$"),
      idle: positive("time", "0 s", "signed out after so long without a key, a scan or a test").optional(),
    }),
  ],
  {
    error: () =>
      '"off", "name", or a mapping like { people: people.json, badge: "^B[0-9]{6}$", idle: 10 min }',
  },
);

/** @param stationPath absolute; the people file's path is taken from its folder */
export function signInSettings(given: z.output<typeof signInShape>, stationPath: string): SignInSettings {
  if (typeof given === "string") return { kind: given };
  return {
    kind: "people",
    path: resolve(dirname(stationPath), given.people),
    badge: given.badge,
    idle_s: given.idle ?? DEFAULT_IDLE_s,
  };
}
