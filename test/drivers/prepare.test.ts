import { describe, expect, it } from "vitest";
import type { DriverError, Reading } from "../../drivers/ports.ts";
import type { GaugeProfile } from "../../drivers/profile.ts";
import { readProfile } from "../../drivers/profile-file.ts";
import { AsciiLineGauge } from "../../drivers/protocols/ascii-line.ts";
import { gaugeProfile, memoryRig, type Script } from "./rigs.ts";

/** A polled gauge that is asked who it is, tests itself, and is set up, with whatever else `more` says. */
function profileWith(more: string, line = "terminator: LF"): GaugeProfile {
  const profile = readProfile(
    "gauge",
    "gauge.yaml",
    `drumtight: profile/1
kind: gauge
title: A gauge of the test
port: { baud: 9600, data_bits: 8, parity: none, stop_bits: 1, flow_control: none }
line: { ${line}, longest_bytes: 80, idle_rest: 100 ms }
reply_within: 300 ms
reply: "^(?<p>{number}|OL|-OL|----)$"
channels:
  - { name: p, quantity: pressure, unit: kPa }
text_values: { over_range: [OL, -OL], invalid: ["----"] }
${more}`,
  );
  if (profile.kind !== "gauge") throw new Error("not a gauge");
  return profile;
}

const POLL = 'poll: { ask: "P?", every: 50 ms }\n';

function bench(profile: GaugeProfile, script: Script, greeting = "") {
  const rig = memoryRig(profile, script, greeting);
  const gauge = new AsciiLineGauge({ name: "gauge", profile, transport: rig.transport, clock: rig.clock });
  const faults: DriverError[] = [];
  const got: Reading[] = [];
  return {
    ...rig,
    gauge,
    faults,
    got,
    connect: () => rig.settle(gauge.connect()),
    refused: () => rig.settle(gauge.connect().catch((error: unknown) => error)),
    watch: () =>
      gauge.watch({ readings: (some) => void got.push(...some), fault: (error) => void faults.push(error) }),
  };
}

const answers =
  (table: Readonly<Record<string, string>>): Script =>
  (command, far) => {
    const answer = table[command];
    if (answer !== undefined) far.send(answer);
  };

const FULL = `${POLL}identity: { ask: "ID?", expect: "^G1$" }
self_test: { ask: "TEST?", expect: "^TEST OK$", within: 10 s }
start_up:
  - { send: "UNIT KPA", expect: "^OK$" }
  - { send: "RATE 50", wait: 200 ms }
`;
const GOOD = { "ID?": "G1\n", "TEST?": "TEST OK\n", "UNIT KPA": "OK\n", "P?": "1.5\n" };

describe("a gauge that is prepared at every connect", () => {
  it("is asked who it is, tests itself and is set up, in this order, each time", async () => {
    const bed = bench(profileWith(FULL), answers(GOOD));
    await bed.connect();
    expect(bed.gauge.identity).toBe("G1");
    expect(await bed.settle(bed.gauge.read())).toMatchObject([{ value: 1500 }]);
    await bed.gauge.close();
    await bed.connect();
    const preparation = ["ID?", "TEST?", "UNIT KPA", "RATE 50"];
    expect(bed.received).toEqual([...preparation, "P?", ...preparation]);
  });

  it("may take as long over its self-test as the profile grants, and no longer", async () => {
    const slow = (delay_ms: number) => {
      const bed = bench(profileWith(FULL), (command, far) => {
        if (command === "TEST?") bed.clock.setTimeout(() => far.send("TEST OK\n"), delay_ms);
        else answers(GOOD)(command, far);
      });
      return bed;
    };
    const inTime = slow(9_990);
    await inTime.connect();
    expect(inTime.clock.now_s()).toBeCloseTo(9.99 + 0.2, 6);
    expect(await slow(10_010).refused()).toMatchObject({
      code: "REPLY_TIMEOUT",
      message: expect.stringMatching(/"TEST\?" within 10 s/),
    });
  });

  it.each([
    [
      "fails its self-test",
      { "TEST?": "TEST FAIL 3\n" },
      "INSTRUMENT_ERROR",
      /"TEST FAIL 3" to its self-test "TEST\?"/,
    ],
    [
      "refuses a start-up command",
      { "UNIT KPA": "ERR 5\n" },
      "INSTRUMENT_ERROR",
      /"ERR 5" to its start-up command "UNIT KPA"/,
    ],
    ["is somebody else", { "ID?": "G2\n" }, "WRONG_INSTRUMENT", /says "G2"/],
    [
      "answers a command that has no answer",
      { "RATE 50": "OK\n" },
      "REPLY_MALFORMED",
      /"OK" without being asked/,
    ],
    ["does not answer a start-up command", { "UNIT KPA": "" }, "REPLY_TIMEOUT", /did not answer "UNIT KPA"/],
  ])("is not used when it %s", async (_what, changed, code, message) => {
    const bed = bench(profileWith(FULL), answers({ ...GOOD, ...changed }));
    expect(await bed.refused()).toMatchObject({ code, message: expect.stringMatching(message) });
    await expect(bed.gauge.read()).rejects.toMatchObject({ code });
    expect(bed.received).not.toContain("P?");
  });

  it("streams only once it has been told to, though it never says who it is", async () => {
    const profile = profileWith(
      'stream: { stale_after: 1 s }\nstart_up:\n  - { send: "GO", expect: "^GOING$" }\n',
    );
    const bed = bench(profile, (command, far) => {
      if (command === "GO") far.send("GOING\n1.0\n2.0\n");
    });
    await bed.connect();
    bed.watch();
    bed.far().send("3.0\n");
    await bed.clock.advance_s(0.01);
    expect(bed.got.map(({ value }) => value)).toContain(3000);
    expect(bed.faults).toEqual([]);
  });

  it("is heard through its echo and the lines that mean nothing", async () => {
    const bed = bench(profileWith(`${FULL}echo: true\nskip: ["^READY>?$"]\n`), (command, far) => {
      far.send(`${command}\nREADY\n`);
      answers(GOOD)(command, far);
      far.send("READY>\n");
    });
    await bed.connect();
    expect(await bed.settle(bed.gauge.read())).toMatchObject([{ value: 1500 }]);
    expect(await bed.settle(bed.gauge.read())).toMatchObject([{ value: 1500 }]);
  });

  it("does not take an echo for an answer where its profile says nothing of one", async () => {
    const bed = bench(profileWith(FULL), (command, far) => {
      far.send(`${command}\n`);
      answers(GOOD)(command, far);
    });
    expect(await bed.refused()).toMatchObject({
      code: "WRONG_INSTRUMENT",
      message: expect.stringContaining('"ID?"'),
    });
  });

  it("is sent what its profile says that commands end with, and answers with its own line end", async () => {
    const heard: string[] = [];
    const profile = profileWith(POLL, "terminator: CRLF, send_terminator: CR");
    const bed = bench(profile, () => undefined);
    await bed.connect();
    bed.far().onBytes((bytes) => {
      heard.push(bytes);
      bed.far().send("2.5\r\n");
    });
    expect(await bed.settle(bed.gauge.read())).toMatchObject([{ value: 2500 }]);
    expect(heard).toEqual(["P?\r"]);
  });
});

describe("a text in a number's place", () => {
  it.each([
    ["OL", "over-range", Number.POSITIVE_INFINITY],
    ["-OL", "over-range", Number.NEGATIVE_INFINITY],
    ["----", "invalid", Number.NaN],
    ["-1.5", "good", -1500],
  ])("%s is taken for what it means", async (text, quality, value) => {
    const bed = bench(profileWith(POLL), answers({ "P?": `${text}\n` }));
    await bed.connect();
    expect(await bed.settle(bed.gauge.read())).toEqual([expect.objectContaining({ quality, value })]);
  });

  it("is refused where the profile does not know it", async () => {
    const profile = { ...profileWith(POLL), textValues: new Map() };
    const bed = bench(profile, answers({ "P?": "OL\n" }));
    await bed.connect();
    await expect(bed.settle(bed.gauge.read())).rejects.toMatchObject({
      code: "REPLY_MALFORMED",
      message: expect.stringContaining("a number for p"),
    });
  });
});

describe("an offset", () => {
  it("is added in the unit, after the scale: 4 to 20 mA for -20 to 0 kPa", async () => {
    const base = profileWith(POLL);
    const channels = base.channels.map((channel) => ({ ...channel, scale: 1.25, offset: -25 }));
    for (const [current_mA, expected] of [
      ["4", -20_000],
      ["12", -10_000],
      ["20", 0],
    ] as const) {
      const bed = bench({ ...base, channels }, answers({ "P?": `${current_mA}\n` }));
      await bed.connect();
      expect(await bed.settle(bed.gauge.read())).toMatchObject([{ value: expected }]);
    }
  });
});

describe("lines with a checksum", () => {
  const CHECKED =
    `${FULL.replaceAll('"ID?"', '"$ID?"').replaceAll("TEST?", "$TEST?").replaceAll("UNIT", "$UNIT").replaceAll("RATE", "$RATE").replaceAll("P?", "$P?")}checksum: { kind: xor, begins_after: $, separator: "*", digits: upper, sent: true }
errors: ["^\\\\$E.*$"]
`
      .replaceAll("^G1$", "^\\\\$G1$")
      .replaceAll("^TEST OK$", "^\\\\$TEST OK$")
      .replaceAll("^OK$", "^\\\\$OK$");
  const withSum = (text: string) => {
    const sum = [...text].reduce((sum, character) => sum ^ character.charCodeAt(0), 0);
    return `$${text}*${sum.toString(16).toUpperCase().padStart(2, "0")}`;
  };
  const profile = () => ({ ...profileWith(CHECKED), reply: /^\$(?<p>[-+.\d]+|OL)$/u });
  const table = (reading: string) => ({
    [withSum("ID?")]: `${withSum("G1")}\n`,
    [withSum("TEST?")]: `${withSum("TEST OK")}\n`,
    [withSum("UNIT KPA")]: `${withSum("OK")}\n`,
    [withSum("P?")]: `${reading}\n`,
  });

  it("are sent and taken with it, and used without", async () => {
    const bed = bench(profile(), answers(table(withSum("1.5"))));
    await bed.connect();
    expect(bed.gauge.identity).toBe("$G1");
    expect(bed.received).toContain(withSum("RATE 50"));
    expect(await bed.settle(bed.gauge.read())).toMatchObject([{ value: 1500 }]);
  });

  it.each([
    [
      "a flipped digit",
      withSum("1.5").replace("1.5", "1.7"),
      "REPLY_MALFORMED",
      /expected the checksum .. at its end; check its cable/,
    ],
    ["no checksum", "$1.5", "REPLY_MALFORMED", /expected "\*" and 2 hexadecimal digits at its end/],
    ["digits in the other case", "$1.5*1a", "REPLY_MALFORMED", /hexadecimal digits/],
    ["an error of the gauge's own", withSum("E5"), "INSTRUMENT_ERROR", /reports/],
  ])("are refused with %s", async (_what, reading, code, message) => {
    const bed = bench(profile(), answers(table(reading)));
    await bed.connect();
    const refused = await bed.settle(bed.gauge.read().catch((error: unknown) => error));
    expect(refused).toMatchObject({ code, message: expect.stringMatching(message) });
  });

  it("are streamed between the answers of a gauge's preparation without mixing them up", async () => {
    const number = { next: 0 };
    const reading = () => `${withSum(`P,${number.next++},-7.99842,kPa,0`)}\r\n`;
    const said = new Map([
      ["ID?", "ID,STREAM-CHECKED,SN1,FW1"],
      ["TEST?", "TEST,OK"],
      ["UNIT,kPa", "OK"],
      ["RATE,20", "OK"],
    ]);
    const heard: string[] = [];
    const bed = bench(
      { ...gaugeProfile("stream-checked"), waitAfterOpen_s: 0.1 },
      () => undefined,
      reading(),
    );
    const connecting = bed.connect();
    bed.clock.setTimeout(() => {
      bed.far().onBytes((bytes) => {
        heard.push(bytes);
        const answer = said.get(bytes.slice(1, bytes.indexOf("*")));
        bed.far().send(`${reading()}${answer === undefined ? "" : `${withSum(answer)}\r\n`}${reading()}`);
      });
      bed.far().send(reading());
    }, 0);
    await connecting;
    expect(heard).toEqual([...said.keys()].map((command) => `${withSum(command)}\r`));
    bed.watch();
    bed.far().send(reading() + reading());
    await bed.clock.advance_s(0.1);
    expect(bed.got.map(({ value }) => value)).toEqual([-7998.42, -7998.42]);
    expect(bed.faults).toEqual([]);
    bed.far().send(reading().replace("7.9", "7.8"));
    await bed.clock.advance_s(0.1);
    expect(bed.faults).toMatchObject([{ code: "REPLY_MALFORMED" }]);
  });

  it("tell a noisy cable from a wrong instrument when asked who they are", async () => {
    const noisy = { ...table(""), [withSum("ID?")]: `${withSum("G1").replace("G1", "G3")}\n` };
    expect(await bench(profile(), answers(noisy)).refused()).toMatchObject({ code: "REPLY_MALFORMED" });
    const stranger = { ...table(""), [withSum("ID?")]: "HELLO\n" };
    expect(await bench(profile(), answers(stranger)).refused()).toMatchObject({ code: "WRONG_INSTRUMENT" });
  });
});
