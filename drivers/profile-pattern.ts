import { NRF_PATTERN } from "./nrf.ts";

export type Compiled =
  | { readonly ok: true; readonly pattern: RegExp }
  | { readonly ok: false; readonly expected: string };

/** A group that repeats something and is itself repeated can take longer than the station lives. */
const NESTED_REPEAT = /\((?:[^()\\]|\\.)*[*+}](?:[^()\\]|\\.)*\)\s*(?:[*+]|\{\d)/;

/**
 * Compiles a pattern of a profile. `{number}` stands for a number as IEEE 488.2 allows it (NRf).
 * @example compilePattern("^(?<suction>{number});(?<flow>{number})$")
 */
export function compilePattern(text: string): Compiled {
  if (!text.startsWith("^") || !text.endsWith("$") || text.endsWith("\\$")) {
    return { ok: false, expected: "a pattern for the whole line, from ^ to $" };
  }
  if (NESTED_REPEAT.test(text)) {
    return { ok: false, expected: "a pattern without a repeated group inside which something repeats" };
  }
  try {
    // The parentheses keep an alternative at the top from escaping the anchors.
    const inner = text.slice(1, -1).replaceAll("{number}", NRF_PATTERN);
    return { ok: true, pattern: new RegExp(`^(?:${inner})$`, "u") };
  } catch (error) {
    const why = error instanceof Error ? error.message.replace(/^.*\/u: /, "") : String(error);
    return { ok: false, expected: `a regular expression that can be read (${why})` };
  }
}

/** Names of the named groups in a pattern, in order. */
export function groupNames(pattern: RegExp): string[] {
  const match = new RegExp(`${pattern.source}|`, "u").exec("");
  return Object.keys(match?.groups ?? {});
}
