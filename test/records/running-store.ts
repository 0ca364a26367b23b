import { afterEach } from "vitest";
import { type Recorded, RecordStore } from "../../station/records/store.ts";
import type { AttemptOutcome } from "../../station/records/traveller.ts";
import { facts, outcome, stoppedClock } from "./example-attempt.ts";

const stores: RecordStore[] = [];
afterEach(async () => {
  for (const store of stores.splice(0)) await store.close();
});

export async function open(folder: string, clock = stoppedClock()) {
  const opened = await RecordStore.open({ folder, clock, station: "line 1" });
  stores.push(opened.store);
  return opened;
}

export async function close(store: RecordStore): Promise<void> {
  stores.splice(stores.indexOf(store), 1);
  await store.close();
}

export async function record(
  store: RecordStore,
  serial: string,
  attempt = 1,
  more: Partial<AttemptOutcome> = {},
): Promise<Recorded> {
  return store.commit(await store.begin(facts(serial, attempt)), outcome(more));
}
