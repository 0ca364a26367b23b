import { describe, expect, it } from "vitest";
import { FilesForTapes, preparedFacts } from "../../station/flight/tape-contents.ts";
import { packTape, unpackTape } from "../../station/flight/tape-file.ts";
import { conversationLines } from "../../station/flight/tape-text.ts";
import { attempt, rawTape, recordedAt, SAID } from "./made-tape.ts";

const files = new FilesForTapes(
  { path: "/station.yaml", text: "drumtight: station/1\n" },
  {
    gauges: [],
    ioBlock: { name: "io_block", profile: "ascii-io", transport: { kind: "memory" }, identity: null },
  },
  [],
  "drumtight 0",
);

async function packed(): Promise<Buffer> {
  const { traveller, sha256 } = recordedAt(7, "A1", Date.UTC(2026, 0, 5, 6));
  const prepared = attempt("A1");
  return packTape({
    ...rawTape(),
    attempt: preparedFacts(prepared),
    files: files.of(prepared),
    traveller,
    sha256,
  });
}

describe("a tape's file", () => {
  it("begins with a line that says what it is about, and is read back whole", async () => {
    const file = await packed();
    expect(JSON.parse(file.toString("latin1").split("\n")[0] ?? "")).toMatchObject({
      format: "drumtight/tape/1",
      serial: "A1",
      attempt: 1,
      verdict: "pass",
    });
    const { damage, events, contents } = await unpackTape(file);
    expect(damage).toBeNull();
    expect(events).toEqual(SAID);
    expect(contents?.files.profiles.map(({ name }) => name)).toEqual(["ascii-io"]);
  });

  it("with any one byte changed is not trusted", async () => {
    const file = await packed();
    for (let at = 0; at < file.length; at += 61) {
      const changed = Buffer.from(file);
      changed[at] = (changed[at] ?? 0) ^ 0x01;
      expect((await unpackTape(changed)).damage, `byte ${at}`).not.toBeNull();
    }
  });

  it("that was cut off at any place is not trusted, and what can be read is what was said", async () => {
    const file = await packed();
    for (let length = 0; length < file.length; length += 97) {
      const { damage, events } = await unpackTape(file.subarray(0, length));
      expect(damage).not.toBeNull();
      expect(events).toEqual(SAID.slice(0, events.length));
    }
    expect((await unpackTape(file.subarray(0, -80))).contents).not.toBeNull();
  });

  it("of something else is no tape", async () => {
    expect((await unpackTape(Buffer.from("{}\n"))).damage).not.toBeNull();
    expect((await unpackTape(Buffer.alloc(0))).damage).not.toBeNull();
  });
});

describe("a tape's conversation", () => {
  it("shows every byte and what it was about, from the beginning of the test", () => {
    expect([...conversationLines(SAID, 100, null)]).toEqual([
      "    0.100 s  io_block       -- commanded: source on, vent off",
      "    0.100 s  io_block       >  SET source=1 vent=0\\r\\n",
      "    0.104 s  io_block       <  OK\\r\\n",
      "    0.104 s  io_block       -- confirmed",
      "    0.110 s  leak_gauge     <  N=\\x00\\xff\\r",
      "    1.000 s  leak_gauge     -- faulted",
    ]);
  });

  it("can be one instrument's", () => {
    expect([...conversationLines(SAID, 100, "leak_gauge")]).toHaveLength(2);
  });
});
