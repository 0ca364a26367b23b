import type { RecordStore } from "./records/store.ts";

/** What the station needs of its records while it runs. */
export type Records = Pick<
  RecordStore,
  | "begin"
  | "commit"
  | "voidOpenAttempts"
  | "history"
  | "dispositionsOf"
  | "ensureHolds"
  | "inDoubt"
  | "attemptsSince"
  | "lastUnits"
  | "firstTests"
  | "firstTestsWindow"
  | "note"
  | "eventsSince"
  | "attemptsAfter"
  | "eventsAfter"
  | "freeBytes"
>;
