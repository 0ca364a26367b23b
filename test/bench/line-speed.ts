import { lstatSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";
import { z } from "zod";
import type { DriverError, Gauge } from "../../drivers/ports.ts";
import { loadProfile } from "../../drivers/profile-file.ts";
import { AsciiLineGauge } from "../../drivers/protocols/ascii-line.ts";
import { RealClock } from "../../drivers/real-clock.ts";
import { LineTransport } from "../../drivers/transports/lines.ts";
import { SerialTransport } from "../../drivers/transports/serial.ts";
import { TcpTransport } from "../../drivers/transports/tcp.ts";
import { packageRoot } from "../../station/package-root.ts";
import { Victim } from "../kills/victim.ts";
import { aside, atLeast, atMost, type Bench, type Figure } from "./figure.ts";
import { onScratchDisk } from "./scratch-disk.ts";
import { Terminal } from "./terminal.ts";

const WAYS = ["tcp", "pty"] as const;
type Way = (typeof WAYS)[number];

const LINES_PER_s = 1000;
const LISTEN_s = 60;
const GAPS = 50;
const POLL_EVERY_s = 0.01;

/**
 * Lines at the highest pace a station is made for. The gauges are a process of their own, over TCP and over pseudo-terminals.
 *
 * - A thousand lines a second for a minute: a unit is tested by `drumtight run` on a terminal, its screen drawing, with a
 *   leak gauge that streams so fast and a measurement that takes a minute. A counter in the station's process looks at the
 *   numbers of the lines that the driver hears; the station itself voids a unit where one is missing.
 * - Gaps: one line at a time is left out of such a stream, and the driver has to report each.
 * - Polls: a gauge that is asked a hundred times a second for a minute.
 */
export const lineSpeed: Bench = async () => {
  const figures: Figure[] = [];
  for (const way of WAYS) {
    for (const part of [streamed, gapsFound, polled]) {
      const measured = await onScratchDisk((folder) => part(way, folder));
      figures.push(...measured);
      // It takes minutes: what is known of it is not kept back until the end.
      for (const { figure, value, unit, against } of measured) {
        process.stderr.write(`${figure}: ${value.toPrecision(6)} ${unit} (${against})\n`);
      }
    }
  }
  return figures;
};

const Metered = z.object({
  lines: z.number(),
  missing: z.number(),
  over_s: z.number(),
  lost_cables: z.number(),
  cpu_s: z.number(),
  uptime_s: z.number(),
  peak_MB: z.number(),
  longest_turn_s: z.number(),
});

async function streamed(way: Way, folder: string): Promise<Figure[]> {
  const sender = await senderIn(way, folder);
  const { serial } = await sender.ask("mount", "mounted");
  const meterFile = join(folder, "meter.json");
  const meter = pathToFileURL(join(packageRoot(), "dist", "test", "bench", "line-meter.js"));
  meter.search = new URLSearchParams({ to: meterFile }).toString();
  const terminal = new Terminal(["run", "--station", join(folder, "station.yaml"), "--draft"], {
    node: ["--import", meter.href],
  });
  await terminal.waitFor("Read the cautions");
  terminal.type("\r");
  await terminal.waitFor("Today: ");
  terminal.type(`${serial}\r`);
  await terminal.waitFor("hands clear");
  terminal.type("\r");
  await terminal.waitFor("being tested");
  await terminal.waitForOne(["the next unit", "acknowledge"]);
  const verdict = verdictIn(join(folder, "records"));
  const { sent } = await sender.ask("count", "counted");
  await terminal.leave();
  sender.type("quit");
  await sender.ended;
  const metered = Metered.parse(JSON.parse(readFileSync(meterFile, "utf8")));
  const lost = metered.missing + (verdict === "pass" ? 0 : 1) + metered.lost_cables;
  return [
    atMost(0, {
      figure: `${way}: lines lost in a unit's test, screen drawing`,
      value: lost,
      unit: "",
      against: `${metered.lines} heard of ${sent} sent until the verdict ${verdict}`,
      ratio: lost,
    }),
    atLeast(1, {
      figure: `${way}: listened`,
      value: metered.over_s,
      unit: "s",
      against: `${LISTEN_s} s at ${(metered.lines / metered.over_s).toFixed(0)} lines a second`,
      ratio: metered.over_s / LISTEN_s,
    }),
    aside({
      figure: `${way}: processor`,
      value: (100 * metered.cpu_s) / metered.uptime_s,
      unit: "%",
      against: "one core, start-up included",
    }),
    aside({ figure: `${way}: memory at most`, value: metered.peak_MB, unit: "MB", against: "" }),
    aside({
      figure: `${way}: longest turn`,
      value: 1000 * metered.longest_turn_s,
      unit: "ms",
      against: "the I/O block's watchdog, 1000 ms",
    }),
  ];
}

/** The station stops at once where a line is missing: then the unit is void. */
function verdictIn(records: string): string {
  const travellers = readdirSync(records, { recursive: true, encoding: "utf8" }).filter((path) =>
    /^\d{4}\/.*\.json$/.test(path),
  );
  const [path = ""] = travellers;
  return z.object({ verdict: z.string() }).parse(JSON.parse(readFileSync(join(records, path), "utf8")))
    .verdict;
}

async function gapsFound(way: Way, folder: string): Promise<Figure[]> {
  const sender = await senderIn(way, folder);
  const address = String((await sender.heard(isStation)).leakGauge);
  const gauge = gaugeAt(address, "stream-pressure");
  let found = 0;
  for (let gap = 0; gap < GAPS; gap++) {
    const made_ms = way === "pty" ? madeAt_ms(address) : null;
    await gauge.connect();
    // The first line heard has none before it to be held against.
    await gauge.read();
    const faults = faultOf(gauge);
    const [error] = await Promise.all([faults, sender.ask("skip", "skipped")]);
    if (error.code === "OUT_OF_SEQUENCE") found++;
    await gauge.close();
    if (way === "pty") await madeAnew(address, made_ms);
  }
  sender.type("quit");
  await sender.ended;
  return [
    atLeast(1, {
      figure: `${way}: planted gaps reported`,
      value: found,
      unit: "",
      against: `${GAPS} planted`,
      ratio: found / GAPS,
    }),
  ];
}

async function polled(way: Way, folder: string): Promise<Figure[]> {
  const sender = await senderIn(way, folder);
  const address = String((await sender.heard(isStation)).sourceGauge);
  const gauge = gaugeAt(address, "scpi-pressure", POLL_EVERY_s);
  await gauge.connect();
  const start_s = performance.now() / 1000;
  let answers = 0;
  const unanswered = await new Promise<number>((resolve) => {
    const stop = gauge.watch({
      readings: () => {
        answers++;
        if (performance.now() / 1000 - start_s >= LISTEN_s) {
          stop();
          resolve(0);
        }
      },
      fault: () => resolve(1),
    });
  });
  const rate_s = answers / (performance.now() / 1000 - start_s);
  await gauge.close();
  sender.type("quit");
  await sender.ended;
  return [
    atMost(0, {
      figure: `${way}: polls unanswered`,
      value: unanswered,
      unit: "",
      against: `${answers} answered`,
      ratio: unanswered,
    }),
    atLeast(0.95, {
      figure: `${way}: polls`,
      value: rate_s,
      unit: "1/s",
      against: `${1 / POLL_EVERY_s} asked for`,
      ratio: rate_s * POLL_EVERY_s,
    }),
  ];
}

/** When the link to a pseudo-terminal was made; null while there is none. */
function madeAt_ms(path: string): number | null {
  return lstatSync(path, { throwIfNoEntry: false })?.ctimeMs ?? null;
}

/** After a fault, which closes it, a pseudo-terminal is made anew: the link to it is another. */
async function madeAnew(path: string, before_ms: number | null): Promise<void> {
  while ([before_ms, null].includes(madeAt_ms(path))) {
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
}

const isStation = ({ event }: { readonly event: string }) => event === "station";

async function senderIn(way: Way, folder: string): Promise<Victim> {
  writeLongModel(join(folder, "limits"));
  const program = fileURLToPath(new URL("line-sender.js", import.meta.url));
  const sender = new Victim([way, folder, String(LINES_PER_s)], [], program);
  await sender.unlessEnded(sender.heard(isStation));
  return sender;
}

/** The demo plant's compact body, measured for a minute whatever is certain before. */
function writeLongModel(folder: string): void {
  mkdirSync(folder, { recursive: true });
  const pod = readFileSync(join(packageRoot(), "limits", "models", "pod-4.yaml"), "utf8")
    .replace(/measure_longest: .*/, `measure_longest: ${LISTEN_s} s`)
    .replace(/measure_shortest: [^,]*/, `measure_shortest: ${LISTEN_s - 1} s`);
  writeFileSync(join(folder, "pod-4.yaml"), pod);
}

/** @param pollEvery_s instead of the profile's */
function gaugeAt(address: string, profileName: string, pollEvery_s?: number): Gauge {
  const profile = loadProfile(profileName);
  if (profile.kind !== "gauge") throw new Error(`${profileName} is no gauge.`);
  const { mode } = profile;
  const paced = mode.kind === "poll" && pollEvery_s !== undefined ? { ...mode, every_s: pollEvery_s } : mode;
  const clock = new RealClock();
  const instrument = "gauge";
  const [host = "", port = ""] = address.split(":");
  const bytes = address.startsWith("/")
    ? new SerialTransport({ instrument, path: address, settings: profile.port, clock })
    : new TcpTransport({ instrument, host, port: Number(port), clock });
  const transport = new LineTransport({ instrument, framing: profile.framing, clock, bytes });
  return new AsciiLineGauge({ name: instrument, profile: { ...profile, mode: paced }, transport, clock });
}

function faultOf(gauge: Gauge): Promise<DriverError> {
  return new Promise((resolve) => {
    gauge.watch({ readings: () => {}, fault: resolve });
  });
}
