import { Command, InvalidArgumentError } from "@commander-js/extra-typings";
import type { ModelLimits } from "../../limits/model.ts";
import type { Deed } from "../../sim/hands.ts";
import type { SimulatedUnit } from "../../sim/population.ts";
import type { Truth } from "../../sim/truth.ts";
import { simGaugeCommand } from "./sim-gauge.ts";

const DEFAULT_SEED = 7;
const ML_MIN_PER_M3_S = 6e7;

/** `drumtight sim`: the invented demo plant, its units and its instruments. */
export function simCommand() {
  return new Command("sim")
    .description("The simulated demo plant: its units with their truth, and its instruments on real ports.")
    .addCommand(unitsCommand())
    .addCommand(serveCommand())
    .addCommand(simGaugeCommand())
    .addHelpText("after", "\nExample:\n  drumtight sim units --seed 7 --count 12");
}

function unitsCommand() {
  return new Command("units")
    .description("Print the units of a seed in the order the line makes them, and the truth of each.")
    .option("--seed <number>", "seed of the units", wholeNumber, DEFAULT_SEED)
    .option("--count <number>", "how many", wholeNumber, 12)
    .option("--defect-rate <part>", "part of the units with a named defect, 0 to 1", part)
    .option("--drift <words>", "a drift, as: leak rate +2 sd from unit 200 of tub_cavity=P2")
    .option("--limits <dir>", "folder of the limit files, instead of the demo plant's")
    .option("--json", "one JSON object per line")
    .addHelpText("after", "\nExample:\n  drumtight sim units --seed 7 --count 100 --json")
    .action(async ({ seed, count, defectRate, drift, limits, json }) => {
      const models = await loadModels(limits);
      const { Population } = await import("../../sim/population.ts");
      const { readDrift } = await import("../../sim/drift.ts");
      const { truthOf } = await import("../../sim/truth.ts");
      const population = new Population({
        seed,
        models,
        ...(defectRate === undefined ? {} : { defectRate }),
        ...(drift === undefined ? {} : { drift: readDrift(drift) }),
      });
      const limitsOf = new Map(models.map((model) => [model.model, model]));
      if (!json) print(TABLE_HEAD);
      for (const unit of population.units(count)) {
        const own = limitsOf.get(unit.model);
        if (!own) continue;
        const truth = truthOf(unit, own);
        print(json ? JSON.stringify(unitJson(unit, truth)) : unitRow(unit, truth));
        // A turn for the output to say that nobody reads on.
        await new Promise((resolve) => setImmediate(resolve));
      }
    });
}

function serveCommand() {
  return new Command("serve")
    .description(
      "Serve the demo station's instruments in real time, with the operator's hands on standard input.",
    )
    .option("--seed <number>", "seed of the units and of all noise", wholeNumber, DEFAULT_SEED)
    .option("--count <number>", "units there are; without it the line never ends", wholeNumber)
    .option("--defect-rate <part>", "part of the units with a named defect, 0 to 1", part)
    .option("--drift <words>", "a drift, as: leak rate +2 sd from unit 200 of tub_cavity=P2")
    .option("--limits <dir>", "folder of the limit files, instead of the demo plant's")
    .option("--tcp <port>", "first of six ports on 127.0.0.1; 0 takes whatever is free", portNumber, 0)
    .option("--pty <dir>", "make pseudo-terminals in this folder (needs socat)")
    .option(
      "--stranger <seed>",
      "put a gauge of unknown make in leak_gauge's place (see sim gauge)",
      wholeNumber,
    )
    .option("--modbus", "leak gauge, power meter, ambient gauge and I/O block speak Modbus")
    .option("--hands", "mount and start only by command; otherwise the next unit comes by itself")
    .option(
      "--write-station <file>",
      "write a station file that finds the instruments here, for drumtight run --station",
    )
    .option("--json", "answer in JSON, one object per line")
    .addHelpText(
      "after",
      `
Commands on standard input, each answered with one line:
  mount SERIAL | next | guard open|close | start | bad-day INSTRUMENT NAME|none | outputs | quit

The hands that work alone press the fixture's start button and put on no reference pieces; run the station with
--start button then.

Example:
  drumtight sim serve --pty /tmp/demo-ports --write-station /tmp/demo-ports/station.yaml
  drumtight run --station /tmp/demo-ports/station.yaml --start button      (in a second terminal)`,
    )
    .action(async (options) => {
      const models = await loadModels(options.limits);
      await serveUntilStopped({ ...options, models });
    });
}

interface ServeArguments {
  readonly seed: number;
  readonly count?: number;
  readonly defectRate?: number;
  readonly drift?: string;
  readonly tcp: number;
  readonly pty?: string;
  readonly stranger?: number;
  readonly modbus?: true;
  readonly hands?: true;
  readonly json?: true;
  readonly writeStation?: string;
  readonly limits?: string;
  readonly models: readonly ModelLimits[];
}

async function serveUntilStopped(options: ServeArguments): Promise<void> {
  const { RealClock } = await import("../../drivers/real-clock.ts");
  const { readDrift } = await import("../../sim/drift.ts");
  const { serve } = await import("../../sim/serve.ts");
  const { UsageError } = await import("../explain.ts");
  const { onLostOutput } = await import("../lost-output.ts");
  const { endOnSignal } = await import("../end-on-signal.ts");
  const { createInterface } = await import("node:readline");
  const say = (deed: Deed) => print(options.json ? JSON.stringify(deed) : deed.sentence);
  let stop: (failure?: Error) => void = () => {};
  const stopped = new Promise<Error | undefined>((resolve) => {
    stop = resolve;
  });
  const begun = endOnSignal(() => stop());
  // In good order, too: the pseudo-terminals are processes of their own.
  onLostOutput((lost) => stop(lost.isReaderGone ? undefined : lost));
  const early: Deed[] = [];
  let isReady = false;
  const serving = await serve({
    clock: new RealClock(),
    seed: options.seed,
    models: options.models,
    count: options.count ?? Number.POSITIVE_INFINITY,
    ...(options.defectRate === undefined ? {} : { defectRate: options.defectRate }),
    ...(options.drift === undefined ? {} : { drift: readDrift(options.drift) }),
    tcpBase: options.tcp,
    ...(options.pty === undefined ? {} : { ptyFolder: options.pty }),
    ...(options.stranger === undefined ? {} : { strangerSeed: options.stranger }),
    modbus: options.modbus === true,
    byHand: options.hands === true,
    did: (deed) => (isReady ? say(deed) : early.push(deed)),
    failed: stop,
  }).catch((error: unknown) => {
    throw error instanceof Error && error.name === "ServeError" ? new UsageError(error.message) : error;
  });
  begun();
  for (const [instrument, address] of serving.addresses) {
    print(
      options.json ? JSON.stringify({ event: "serving", instrument, address }) : `${instrument} ${address}`,
    );
  }
  if (options.writeStation !== undefined)
    await writeStation(options.writeStation, options, serving.addresses);
  for (const deed of early) say(deed);
  isReady = true;
  const lines = createInterface({ input: process.stdin });
  lines.on("line", (line) => {
    if (line.trim() === "") return;
    const deed = serving.hands.obey(line);
    say(deed);
    if (deed.event === "quit") stop();
  });
  const failure = await stopped;
  lines.close();
  process.stdin.destroy();
  await serving.close();
  if (failure) throw new UsageError(failure.message);
}

async function writeStation(
  path: string,
  options: ServeArguments,
  addresses: ReadonlyMap<string, string>,
): Promise<void> {
  const { readFileSync, writeFileSync } = await import("node:fs");
  const { dirname, join, resolve } = await import("node:path");
  const { packageRoot } = await import("../package-root.ts");
  const { copyCalibrations } = await import("../calibrations-in-force.ts");
  const { servedStationFile, transportTo } = await import("../served-station-file.ts");
  const { demoStationPath } = await import("../wiring.ts");
  const { modbusDemoCalibration, modbusDemoFile } = await import("../modbus-demo-file.ts");
  const demo = readFileSync(demoStationPath(), "utf8");
  const text = servedStationFile(options.modbus ? modbusDemoFile(demo) : demo, {
    transports: new Map([...addresses].map(([instrument, address]) => [instrument, transportTo(address)])),
    limitsFolder: resolve(options.limits ?? join(packageRoot(), "limits", "models")),
    recordsFolder: join(dirname(resolve(path)), "records"),
    referenceModels: options.hands ? options.models.map(({ model }) => model) : [],
  });
  writeFileSync(path, text);
  const edited = options.modbus ? modbusDemoCalibration : undefined;
  copyCalibrations(demoStationPath(), path, options.models, edited);
  print(options.json ? JSON.stringify({ event: "station", path }) : `station file ${path}`);
}

/** @throws UsageError when the folder cannot be used; FileProblems from the files themselves */
async function loadModels(folder: string | undefined): Promise<ModelLimits[]> {
  const { join } = await import("node:path");
  const { loadLimitFolder } = await import("../../limits/limit-file.ts");
  const { isSimulatedModel } = await import("../../sim/bodies.ts");
  const { calendarDate } = await import("../calendar-date.ts");
  const { readStationFileAlone } = await import("../load-station.ts");
  const { limitsOn } = await import("../models-in-force.ts");
  const { packageRoot } = await import("../package-root.ts");
  const { demoStationPath } = await import("../wiring.ts");
  const { UsageError } = await import("../explain.ts");
  const all = loadLimitFolder(folder ?? join(packageRoot(), "limits", "models"));
  const { approvers } = readStationFileAlone(demoStationPath());
  const models = limitsOn(all, approvers, calendarDate(Date.now()));
  const simulated = models.filter(({ model }) => isSimulatedModel(model));
  if (simulated.length === 0) {
    throw new UsageError(
      `No limit file in ${folder ?? "limits/models"} is for a model of the demo plant; leave --limits out.`,
    );
  }
  return simulated;
}

function unitJson(unit: SimulatedUnit, truth: Truth) {
  return {
    serial: unit.serial,
    model: unit.model,
    leak_mLmin: rounded(truth.leak_m3_s * ML_MIN_PER_M3_S, 6),
    defects: unit.defects,
    ...(unit.hasDrift ? { drifted: true } : {}),
    conforms: truth.conforms,
    parts: unit.parts,
    airflow: truth.points.map((point) => ({
      step: point.step,
      point: point.name,
      suction_kPa: rounded(point.suction_Pa / 1000, 6),
      flow_Ls: rounded(point.flow_m3_s * 1000, 6),
      power_W: rounded(point.power_W, 6),
    })),
    characteristics: truth.characteristics.map(({ name, value, conforms }) => ({
      name,
      value_SI: value,
      conforms,
    })),
  };
}

const TABLE_HEAD = `${"serial".padEnd(12)}${"model".padEnd(8)}${"leak mL/min".padStart(12)}  ${"sealed..open suction kPa, flow L/s, power W".padEnd(52)}conforms  defects`;

function unitRow(unit: SimulatedUnit, truth: Truth): string {
  const airflow = truth.points
    .map(({ suction_Pa, flow_m3_s, power_W }) =>
      [(suction_Pa / 1000).toFixed(1), (flow_m3_s * 1000).toFixed(1), power_W.toFixed(0)].join("/"),
    )
    .join("  ");
  const leak_mLmin = truth.leak_m3_s * ML_MIN_PER_M3_S;
  const leak = leak_mLmin.toFixed(leak_mLmin < 1000 ? 2 : 0);
  return `${unit.serial.padEnd(12)}${unit.model.padEnd(8)}${leak.padStart(12)}  ${airflow.padEnd(52)}${(truth.conforms ? "yes" : "no").padEnd(10)}${[...unit.defects, ...(unit.hasDrift ? ["drifted"] : [])].join(", ") || "-"}`;
}

function rounded(value: number, digits: number): number {
  return Number(value.toPrecision(digits));
}

function wholeNumber(text: string): number {
  if (!/^\d{1,9}$/.test(text)) throw new InvalidArgumentError("Give a whole number, like 7.");
  return Number(text);
}

function portNumber(text: string): number {
  const port = wholeNumber(text);
  if (port > 65_530) throw new InvalidArgumentError("Give a port number up to 65530, or 0.");
  return port;
}

function part(text: string): number {
  const value = /^(0|1|0?\.\d+|1\.0+|0\.0+)$/.test(text) ? Number(text) : Number.NaN;
  if (!(value >= 0 && value <= 1)) throw new InvalidArgumentError("Give a number from 0 to 1, like 0.3.");
  return value;
}

function print(line: string): void {
  process.stdout.write(`${line}\n`);
}
