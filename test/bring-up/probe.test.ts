import { describe, expect, it } from "vitest";
import { readProfile } from "../../drivers/profile-file.ts";
import type { SerialSettings } from "../../drivers/transports/serial-settings.ts";
import { strangerTraits } from "../../sim/instruments/stranger-traits.ts";
import { settingsText } from "../../station/bring-up/port-settings.ts";
import { LINE_PROFILES, StrangerBench } from "./stranger-bench.ts";

// Streams, polled and started ones; line ends CR, LF and both; parity; each kind of checksum; complaints that mislead.
const SEEDS = [2, 3, 5, 18, 24, 232];

const SETTINGS = { baud: 9600, dataBits: 8, parity: "none", stopBits: 1, flowControl: "none" } as const;

describe("a gauge of unknown make", () => {
  it.each(SEEDS)(
    "number %i is found, described, and then read right by the station's driver",
    async (seed) => {
      const traits = strangerTraits(seed);
      const bench = new StrangerBench(traits, seed);
      bench.pressure_Pa = -8000;
      const result = await bench.probe();
      expect(result.finding && settingsText(result.finding.settings)).toBe(
        settingsText({ ...traits.port, stopBits: 1, flowControl: "none" }),
      );
      const pressure = { name: "leak_pressure", quantity: "pressure", unit: traits.unit.text };
      const draft = await bench.draft(result, [pressure, null]);
      const readings = await bench.read(draft);
      expect(readings).toEqual([
        expect.objectContaining({
          channel: "leak_pressure",
          quality: "good",
          value: expect.closeTo(-8000, -2),
        }),
      ]);
      if (traits.identity) expect(draft).toContain(`identity: { ask: '${traits.identity.ask}'`);
      if (traits.checksum) expect(draft).toContain(`kind: ${traits.checksum.kind}`);
      // One answer that a busy computer hears late must not end a whole study.
      expect(Number(/^reply_within: (\d+) ms$/m.exec(draft)?.[1])).toBeGreaterThanOrEqual(1000);
    },
  );

  it("that complains of questions it does not know has that in its draft", async () => {
    const bench = new StrangerBench(strangerTraits(5), 5);
    const draft = await bench.draft(await bench.probe());
    expect(draft).toContain("errors: ['^ERR \\d+$']");
    expect(() => readProfile("draft", "draft.yaml", draft)).not.toThrow();
  });

  it("that streams but began to talk late is not taken for one that answers", async () => {
    const bench = new StrangerBench(strangerTraits(1199), 1199);
    const result = await bench.probe({ listen_s: 0.001, settings: [{ ...SETTINGS, baud: 19_200 }] });
    const draft = await bench.draft(result);
    expect(result.finding?.answers.length).toBeGreaterThan(0);
    expect(draft).toContain("stream: {");
    expect(draft).not.toContain("poll: {");
  });

  it("is found through a port that, opened again at once, stays set as it was", async () => {
    const bench = new StrangerBench(strangerTraits(1199), 1199);
    let judged_s = Number.NEGATIVE_INFINITY;
    let inForce: SerialSettings = SETTINGS;
    const { finding, garbledAt } = await bench.probe({
      settings: [SETTINGS, { ...SETTINGS, baud: 19_200 }],
      port: {
        isSerial: true,
        open: async (settings) => {
          if (bench.clock.now_s() - judged_s > 0.1) inForce = settings;
          return bench.cable(inForce);
        },
      },
      saw: ({ kind }) => {
        if (kind === "judged") judged_s = bench.clock.now_s();
      },
    });
    expect(garbledAt.map(settingsText)).toEqual(["9600-8N1"]);
    expect(finding && settingsText(finding.settings)).toBe("19200-8N1");
  });

  it("is sent nothing while it is only listened to", async () => {
    const bench = new StrangerBench(strangerTraits(3, "polled"), 3);
    const { finding } = await bench.probe({ questions: [], given: [], start: [] });
    expect(finding).toBeNull();
    expect(bench.sent).toEqual([]);
  });

  it("is only ever sent what was agreed to", async () => {
    const bench = new StrangerBench(strangerTraits(5, "polled"), 5);
    await bench.probe();
    const identities = LINE_PROFILES.flatMap(({ identity }) => (identity ? [identity.ask] : []));
    const polls = LINE_PROFILES.flatMap((profile) =>
      profile.kind === "gauge" && profile.mode.kind === "poll" ? [profile.mode.ask] : [],
    );
    for (const text of bench.sent) {
      const bare = text.trim().replace(/\*[0-9A-F]{2}$/, "");
      expect([...identities, ...polls, bench.traits.ask, ""]).toContain(bare);
    }
  });
});
