import { inWords_s } from "./lockout.ts";
import type { People, Person } from "./people-file.ts";
import { ALL_BADGES, triesKey } from "./wrong-tries.ts";

/** @param locked until when, by key */
export function peopleText(people: People, locked: ReadonlyMap<string, number>, now_ms: number): string {
  const rows = people.people.map((person) => [
    person.name,
    person.role,
    person.badge ? "badge, PIN" : "PIN",
    stateWords(people, person, locked, now_ms),
  ]);
  const widths = [0, 1, 2].map((column) => Math.max(...rows.map((row) => row[column]?.length ?? 0)));
  const lines = rows.map((row) =>
    row
      .map((cell, column) => cell.padEnd(widths[column] ?? 0))
      .join("  ")
      .trimEnd(),
  );
  const until_ms = locked.get(ALL_BADGES);
  const badges = until_ms === undefined ? [] : [`Badges are locked for another ${left(until_ms, now_ms)}.`];
  return [...lines, ...badges].join("\n");
}

/** The same for programs: never a hash. */
export function peopleJson(people: People, locked: ReadonlyMap<string, number>) {
  const until = (key: string) => {
    const until_ms = locked.get(key);
    return until_ms === undefined ? null : new Date(until_ms).toISOString();
  };
  return {
    people: people.people.map(({ name, role, added, disabled, badge }) => ({
      name,
      role,
      has_badge: badge !== null,
      added,
      disabled,
      locked_until: until(triesKey(people, name)),
    })),
    badges_locked_until: until(ALL_BADGES),
  };
}

function stateWords(
  people: People,
  { name, disabled }: Person,
  locked: ReadonlyMap<string, number>,
  now_ms: number,
): string {
  if (disabled) return `disabled ${disabled.at.slice(0, 10)} by ${disabled.by}`;
  const until_ms = locked.get(triesKey(people, name));
  return until_ms === undefined ? "" : `locked for another ${left(until_ms, now_ms)}`;
}

function left(until_ms: number, now_ms: number): string {
  return inWords_s((until_ms - now_ms) / 1000);
}
