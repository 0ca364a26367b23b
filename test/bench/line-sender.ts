import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { createInterface } from "node:readline";
import type { FarEnd } from "../../drivers/ports.ts";
import { RealClock } from "../../drivers/real-clock.ts";
import { loadLimitFolder } from "../../limits/limit-file.ts";
import type { SimulatedInstrument } from "../../sim/instruments/plugged-instrument.ts";
import { Population } from "../../sim/population.ts";
import { serveOnPtys } from "../../sim/serve-pty.ts";
import { serveOnTcp } from "../../sim/serve-tcp.ts";
import { StationPlant } from "../../sim/station-plant.ts";
import { copyCalibrations } from "../../station/calibrations-in-force.ts";
import { servedStationFile, transportTo } from "../../station/served-station-file.ts";
import { demoStationPath } from "../../station/wiring.ts";

// A process of its own that plays the plant with a fast leak gauge:
//   node line-sender.js tcp|pty FOLDER LINES_PER_s     FOLDER has the limit files, in "limits"
// It writes FOLDER/station.yaml and says {"event":"station"}. Each line on its input is answered with one:
//   mount    a good unit is put on                    -> {"event":"mounted","serial":...}
//   skip     one line of the leak gauge is left out   -> {"event":"skipped"}, once it is
//   count    -> {"event":"counted","sent":lines put on the wire since the last connect}
//   quit
const [over = "tcp", folder = "", rate = "1000"] = process.argv.slice(2);

/** Counts what an instrument puts on the wire, and leaves out a line when asked. */
class Counted implements SimulatedInstrument {
  readonly #instrument: SimulatedInstrument;
  sent = 0;
  #skips: (() => void) | null = null;

  constructor(instrument: SimulatedInstrument) {
    this.#instrument = instrument;
  }

  get name(): string {
    return this.#instrument.name;
  }

  get badDays(): readonly string[] {
    return this.#instrument.badDays;
  }

  attach(far: FarEnd): () => void {
    this.sent = 0;
    return this.#instrument.attach({
      ...far,
      send: (bytes) => {
        const skipped = bytes.startsWith("N=") ? this.#skips : null;
        this.#skips = skipped ? null : this.#skips;
        if (skipped) return skipped();
        if (bytes.startsWith("N=")) this.sent++;
        far.send(bytes);
      },
    });
  }

  misbehave(badDay: string | null): void {
    this.#instrument.misbehave(badDay);
  }

  skipOne(): Promise<void> {
    return new Promise((resolve) => {
      this.#skips = resolve;
    });
  }
}

const models = loadLimitFolder(join(folder, "limits"));
const plant = new StationPlant({ clock: new RealClock(), seed: 7, models, leakLinesPer_s: Number(rate) });
const leakGauge = plant.instruments.get("leak_gauge");
if (!leakGauge) throw new Error("The demo plant has no leak gauge.");
const counted = new Counted(leakGauge);
const say = (event: object) => process.stdout.write(`${JSON.stringify(event)}\n`);
const tcp = await serveOnTcp(new Map([...plant.instruments, ["leak_gauge", counted]]), 0);
const ptys =
  over === "pty"
    ? await serveOnPtys(tcp.ports, join(folder, "ports"), (error) => {
        throw error;
      })
    : null;
const addresses = ptys?.paths ?? new Map([...tcp.ports].map(([name, port]) => [name, `127.0.0.1:${port}`]));
const path = join(folder, "station.yaml");
writeFileSync(
  path,
  servedStationFile(readFileSync(demoStationPath(), "utf8"), {
    transports: new Map([...addresses].map(([name, address]) => [name, transportTo(address)])),
    limitsFolder: join(folder, "limits"),
    recordsFolder: join(folder, "records"),
    referenceModels: [],
  }),
);
copyCalibrations(demoStationPath(), path, models);
const goodUnits = new Population({ seed: 7, models, defectRate: 0 }).units(1000);
say({ event: "station", leakGauge: addresses.get("leak_gauge"), sourceGauge: addresses.get("source_gauge") });

createInterface({ input: process.stdin }).on("line", (line) => void obey(line.trim()));

async function obey(word: string): Promise<void> {
  if (word === "mount") {
    const { value: unit } = goodUnits.next();
    plant.mount(unit ?? null);
    say({ event: "mounted", serial: unit?.serial });
  } else if (word === "skip") {
    await counted.skipOne();
    say({ event: "skipped" });
  } else if (word === "count") {
    say({ event: "counted", sent: counted.sent });
  } else if (word === "quit") {
    await ptys?.close();
    await tcp.close();
    process.exit(0);
  }
}
