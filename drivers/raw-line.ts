const SHOWN_LONGEST = 100;

/** A line as it came, made safe to print: quoted, control characters escaped, cut when long. */
export function quoteRaw(raw: string): string {
  const shown = raw.length > SHOWN_LONGEST ? raw.slice(0, SHOWN_LONGEST) : raw;
  const quoted = JSON.stringify(shown).replace(
    /[\x7f-\x9f]/g,
    (character) => `\\u${character.charCodeAt(0).toString(16).padStart(4, "0")}`,
  );
  return raw.length > SHOWN_LONGEST ? `${quoted} (first ${SHOWN_LONGEST} of ${raw.length})` : quoted;
}

/** A line as it came, unquoted: bytes other than printable ASCII as \\xNN, cut when long. */
export function printable(raw: string): string {
  const shown = raw.length > SHOWN_LONGEST ? raw.slice(0, SHOWN_LONGEST) : raw;
  const escaped = shown.replace(/[^\x20-\x7e]/g, (character) => {
    return `\\x${character.charCodeAt(0).toString(16).padStart(2, "0")}`;
  });
  return raw.length > SHOWN_LONGEST ? `${escaped}... (${raw.length} bytes)` : escaped;
}

/** Seconds for people: "50 ms", "1.5 s". */
export function printSeconds(seconds: number): string {
  return seconds < 1 ? `${Number((seconds * 1000).toFixed(1))} ms` : `${Number(seconds.toFixed(2))} s`;
}
