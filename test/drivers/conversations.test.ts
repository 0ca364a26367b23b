import { afterEach, describe, expect, test } from "vitest";
import type { DriverErrorCode, FarEnd, Reading } from "../../drivers/ports.ts";
import { AsciiLineGauge } from "../../drivers/protocols/ascii-line.ts";
import { gaugeProfile, memoryRig, type Rig, type Script, serialRig, tcpRig } from "./rigs.ts";

const RIGS = {
  "memory, virtual time": async (profile: string, script: Script) => memoryRig(gaugeProfile(profile), script),
  "a TCP socket": (profile: string, script: Script) => tcpRig(gaugeProfile(profile), script),
  "a serial port": (profile: string, script: Script) => serialRig(gaugeProfile(profile), script),
} satisfies Record<string, (profile: string, script: Script) => Promise<Rig>>;

const IDN = "DEMO WORKS,PRESSURE,SN0001,1.0\n";
const ID = "ID=STREAM-PRESSURE;SN=0001;FW=1.0\r\n";

/** Answers the identity query, and the n-th poll with the n-th of these. */
function answering(...answers: ((far: FarEnd) => void)[]): Script {
  let polls = 0;
  return (command, far) => {
    if (command === "*IDN?") far.send(IDN);
    else if (command === "MEAS:PRES?") answers[polls++]?.(far);
  };
}

const say = (text: string) => (far: FarEnd) => far.send(text);

interface Polled {
  readonly is: string;
  readonly script: () => Script;
  readonly reads: readonly (Partial<Reading> | DriverErrorCode)[];
  /** Part of the last error's message. */
  readonly says?: string;
}

const POLLED: readonly Polled[] = [
  {
    is: "answers with a number",
    script: () => answering(say("-8.45012E+03\n"), say("+1.5E+00\r\n")),
    reads: [{ value: -8450.12, quality: "good" }, { value: 1.5 }],
  },
  {
    is: "answers in pieces",
    script: () =>
      answering((far) => {
        for (const byte of "-8.45012E+03\n") far.send(byte);
      }),
    reads: [{ value: -8450.12, quality: "good" }],
  },
  {
    is: "has no number to give",
    script: () => answering(say("9.91E+37\n")),
    reads: [{ value: Number.NaN, quality: "invalid" }],
  },
  {
    is: "is beyond its range",
    script: () => answering(say("-9.9E+37\n")),
    reads: [{ value: Number.NEGATIVE_INFINITY, quality: "over-range" }],
  },
  {
    is: "stays silent",
    script: () => answering(),
    reads: ["REPLY_TIMEOUT", "REPLY_TIMEOUT"],
    says: '"MEAS:PRES?"',
  },
  {
    is: "stops in the middle of a line",
    script: () => answering(say("-8.45")),
    reads: ["REPLY_TIMEOUT"],
    says: '"-8.45"',
  },
  {
    is: "answers garbage",
    script: () => answering(say("\xff\x00-8.45012E+03\n")),
    reads: ["REPLY_MALFORMED"],
    says: "\\u0000-8.45012E+03",
  },
  {
    is: "glues two numbers",
    script: () => answering(say("12.34.56\n")),
    reads: ["REPLY_MALFORMED"],
    says: "12.34.56",
  },
  {
    is: "sends without end",
    script: () => answering(say("7".repeat(5000))),
    reads: ["LINE_TOO_LONG"],
    says: "baud rate",
  },
  {
    is: "answers one question twice",
    script: () => answering(say("+1.0E+00\n+2.0E+00\n")),
    reads: [{ value: 1 }, "REPLY_MALFORMED"],
    says: "without being asked",
  },
  {
    is: "hangs up instead of answering",
    script: () => answering((far) => far.hangUp()),
    reads: ["PORT_LOST"],
  },
  {
    is: "does not know the question and says so when asked why it is silent",
    script: () => (command, far) => {
      if (command === "*IDN?") far.send(IDN);
      if (command === "SYST:ERR?") far.send('-113,"Undefined header"\n');
    },
    reads: ["INSTRUMENT_ERROR"],
    says: '-113,"Undefined header"',
  },
  {
    is: "answers too late, after it was asked why it is silent",
    script: () => (command, far) => {
      if (command === "*IDN?") far.send(IDN);
      if (command === "SYST:ERR?") far.send("-8.45012E+03\n");
    },
    reads: ["REPLY_TIMEOUT"],
  },
];

interface Streamed {
  readonly is: string;
  /** Sent after the identity. */
  readonly sends: string;
  readonly values: readonly number[];
  readonly fault: DriverErrorCode;
  readonly says: string;
}

const STREAMED: readonly Streamed[] = [
  {
    is: "streams over the end of its counter and falls silent",
    sends: "N=999998 P=-7998.42 S=0\r\nN=999999 P=-7998.40 S=0\r\nN=000000 P=+0.05 S=0\r\n",
    values: [-7998.42, -7998.4, 0.05],
    fault: "REPLY_TIMEOUT",
    says: "nothing for 1 s",
  },
  {
    is: "loses three readings",
    sends: "N=000007 P=-7998.42 S=0\r\nN=000011 P=-7998.40 S=0\r\n",
    values: [-7998.42],
    fault: "OUT_OF_SEQUENCE",
    says: "3 readings are missing between number 7 and 11",
  },
  {
    is: "loses one reading over the end of its counter",
    sends: "N=999999 P=-1.00 S=0\r\nN=000001 P=-1.00 S=0\r\n",
    values: [-1],
    fault: "OUT_OF_SEQUENCE",
    says: "1 reading is missing between number 999999 and 1",
  },
  {
    is: "sends a reading twice",
    sends: "N=000007 P=-7998.42 S=0\r\nN=000007 P=-7998.42 S=0\r\n",
    values: [-7998.42],
    fault: "OUT_OF_SEQUENCE",
    says: "number 7 came after 7",
  },
  {
    is: "garbles a line",
    sends: "N=000007 P=-7998.42 S=0\r\nN=000008 P=-79N=000009 P=-7998.42 S=0\r\n",
    values: [-7998.42],
    fault: "REPLY_MALFORMED",
    says: '"N=000008 P=-79N=000009 P=-7998.42 S=0"',
  },
  {
    is: "is over its range, then its sensor fails, then it stops in a line",
    sends: "N=000007 P=-9999.99 S=1\r\nN=000008 P=+0.00 S=2\r\nN=000009 P=-79",
    values: [Number.NEGATIVE_INFINITY, Number.NaN],
    fault: "REPLY_TIMEOUT",
    says: '"N=000009 P=-79"',
  },
];

let rig: Rig | undefined;
let gauge: AsciiLineGauge | undefined;

afterEach(async () => {
  await gauge?.close();
  await rig?.close();
});

async function bench(kind: keyof typeof RIGS, profile: string, script: Script) {
  const opened: Rig = await RIGS[kind](profile, script);
  rig = opened;
  const { transport, clock } = opened;
  gauge = new AsciiLineGauge({ name: "gauge", profile: gaugeProfile(profile), transport, clock });
  return { gauge, rig: opened };
}

describe.each(Object.keys(RIGS) as (keyof typeof RIGS)[])("over %s", (kind) => {
  test.each(POLLED)("a polled gauge that $is", async ({ script, reads, says }) => {
    const { gauge, rig } = await bench(kind, "scpi-pressure", script());
    await rig.settle(gauge.connect());
    expect(gauge.identity).toBe(IDN.trimEnd());
    for (const expected of reads) {
      const outcome = await rig.settle(gauge.read().catch((error: unknown) => error));
      if (typeof expected === "string") {
        expect(outcome).toMatchObject({ code: expected, instrument: "gauge" });
        if (says && expected === reads.at(-1))
          expect(outcome).toHaveProperty("message", expect.stringContaining(says));
      } else expect(outcome).toMatchObject([{ channel: "source_pressure", ...expected }]);
    }
  });

  test.each(STREAMED)("a streaming gauge that $is", async ({ sends, values, fault, says }) => {
    const { gauge, rig } = await bench(kind, "stream-pressure", (command, far) => {
      // Cut off at the start, as when one comes in at any place; it even fits no pattern.
      if (command === "ID?") far.send(`8.42 S=0\r\n${ID}`);
    });
    await rig.settle(gauge.connect());
    const got: number[] = [];
    const faulted = new Promise<unknown>((resolve) => {
      gauge.watch({ readings: ([reading]) => got.push(reading?.value ?? 0), fault: resolve });
    });
    rig.far().send(sends);
    expect(await rig.settle(faulted)).toMatchObject({ code: fault, message: expect.stringContaining(says) });
    expect(got).toEqual(values);
    await expect(gauge.read()).rejects.toMatchObject({ code: fault });
  });

  test("the wrong instrument on the port is refused and nothing else is asked of it", async () => {
    const { gauge, rig } = await bench(kind, "scpi-pressure", (_command, far) =>
      far.send("DEMO WORKS,POWER,SN0001,1.0\n"),
    );
    await expect(rig.settle(gauge.connect())).rejects.toMatchObject({
      code: "WRONG_INSTRUMENT",
      message: expect.stringContaining("DEMO WORKS,POWER"),
    });
    expect(rig.received).toEqual(["*IDN?"]);
  });

  test("a wrong instrument where a streaming gauge should be is named, not called silent", async () => {
    const { gauge, rig } = await bench(kind, "stream-pressure", (_command, far) =>
      far.send("ID=ASCII-IO;SN=0001;FW=1.0\r\n"),
    );
    await expect(rig.settle(gauge.connect())).rejects.toMatchObject({
      code: "WRONG_INSTRUMENT",
      message: expect.stringContaining("ID=ASCII-IO"),
    });
  });

  test("polling goes on until it is stopped, with times that increase", async () => {
    let count = 0;
    const { gauge, rig } = await bench(kind, "scpi-pressure", (command, far) =>
      far.send(command === "*IDN?" ? IDN : `${++count}\n`),
    );
    await rig.settle(gauge.connect());
    const got: Reading[] = [];
    await rig.settle(
      new Promise<void>((resolve, reject) => {
        const stop = gauge.watch({
          readings: (readings) => {
            got.push(...readings);
            if (got.length < 4) return;
            stop();
            resolve();
          },
          fault: reject,
        });
      }),
    );
    const [after] = await rig.settle(gauge.read());
    expect([...got, after].map((reading) => reading?.value)).toEqual([1, 2, 3, 4, 5]);
    const gaps_s = got.slice(1).map((reading, index) => reading.t_s - (got[index]?.t_s ?? 0));
    expect(Math.min(...gaps_s)).toBeGreaterThan(0);
    if (kind === "memory, virtual time") for (const gap_s of gaps_s) expect(gap_s).toBeCloseTo(0.05, 9);
  });
});
