import { type Contradiction, keyOf, listOf, textOf } from "../limits/faulty-file.ts";
import { parseNrf } from "./nrf.ts";
import { groupNames } from "./profile-pattern.ts";

/**
 * Every channel and every piece of information has its named group in the reply pattern, each group a use. It is
 * given the file with its faults.
 */
export function groupProblems(given: unknown): Contradiction[] {
  const reply = keyOf(given, "reply");
  if (!(reply instanceof RegExp)) return [];
  const groups = groupNames(reply);
  const wanted = [
    ...listOf(given, "channels").map((entry, i) => ({
      group: textOf(entry, "name"),
      path: ["channels", i, "name"],
    })),
    ...["sequence", "time", "status"].map((key) => ({
      group: textOf(keyOf(given, key), "group"),
      path: [key, "group"],
    })),
  ];
  const used = new Set<string>();
  const problems: Contradiction[] = [];
  for (const { group, path } of wanted) {
    if (group === undefined) continue;
    if (used.has(group)) problems.push({ expected: "a name not used before", path });
    else if (!groups.includes(group)) {
      const known = groups.join(", ") || "none";
      problems.push({ expected: `a named group of the reply pattern (it has ${known})`, path });
    }
    used.add(group);
  }
  // Without any channel that is the mistake, and not each group that is left over.
  const idle = listOf(given, "channels").length === 0 ? [] : groups.filter((group) => !used.has(group));
  return [
    ...problems,
    ...idle.map((group) => ({ expected: `a channel or other use for its group ${group}`, path: ["reply"] })),
  ];
}

const MEANINGS = ["good", "over_range", "invalid"] as const;

/** What a text or number stands for is said once, and a text for what no number could be. */
export function markProblems(given: unknown): Contradiction[] {
  const repeated = ["status", "special_values", "text_values"].flatMap((table) => {
    const seen = new Set<unknown>();
    return marksOf(given, table).flatMap(({ mark, path }) => {
      const isNew = !seen.has(mark);
      seen.add(mark);
      return isNew ? [] : [{ path, expected: "each of them once" }];
    });
  });
  const numbers = marksOf(given, "text_values").filter(
    ({ mark }) => typeof mark === "string" && parseNrf(mark) !== undefined,
  );
  return [
    ...repeated,
    ...numbers.map(({ path }) => ({
      path,
      expected: "a text that is no number",
      hint: "numbers with a meaning of their own stand under special_values",
    })),
  ];
}

function marksOf(given: unknown, table: string): { mark: unknown; path: (string | number)[] }[] {
  return MEANINGS.flatMap((meaning) =>
    listOf(keyOf(given, table), meaning).map((mark, i) => ({ mark, path: [table, meaning, i] })),
  );
}

/** Where commands carry a checksum, each begins as the checksum says lines begin. */
export function commandProblems(given: unknown): Contradiction[] {
  const checksum = keyOf(given, "checksum");
  const beginning = textOf(checksum, "beginsAfter") ?? "";
  if (keyOf(checksum, "sent") !== true || beginning === "") return [];
  const asked = ["identity", "self_test", "poll", "when_silent"].map((key) => ({
    text: textOf(keyOf(given, key), "ask"),
    path: [key, "ask"] as (string | number)[],
  }));
  const sent = listOf(given, "start_up").map((step, i) => ({
    text: textOf(step, "send"),
    path: ["start_up", i, "send"],
  }));
  return [...asked, ...sent]
    .filter(({ text }) => text !== undefined && !text.startsWith(beginning))
    .map(({ path }) => ({
      path,
      expected: `a command that begins with ${JSON.stringify(beginning)}, as its checksum says`,
    }));
}
