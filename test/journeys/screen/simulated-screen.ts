import { copyFileSync, existsSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import type { Traveller } from "../../../station/records/traveller.ts";
import { scratchFolder, travellersIn } from "../../records/scratch-folder.ts";
import { TmuxScreen } from "./tmux-screen.ts";

/** A unit takes some twenty seconds of the plant's time: verdicts stay right however busy the machine is. */
const SPEED = 20;

const LOOKS_BEFORE_RESCAN = 25;

const verdictOf = (serial: string) =>
  `${serial} (is good|failed|has no valid verdict|reads as certified)|STOPPED`;

export interface ScreenSetup {
  /** Changes to the demo plant's station file. */
  readonly station?: (text: string) => string;
  readonly columns?: number;
  readonly rows?: number;
  readonly environment?: Readonly<Record<string, string>>;
  /** Of `drumtight run`, besides the usual ones. */
  readonly args?: readonly string[];
  /** How many times as fast as real time. */
  readonly speed?: number;
}

/** The reference check takes three pieces; a journey about something else leaves it out. */
export const withoutReferenceCheck = (text: string) =>
  text.replace(/\nreference_check:[\s\S]*?\n\n/, '\nreference_check: "off"\n\n');

/** An inspector before the screen of the demo plant's POD-4 line, every instrument simulated. */
export class SimulatedScreen {
  readonly folder: string;
  readonly stationFile: string;
  readonly records: string;
  #screen: TmuxScreen | null = null;

  private constructor() {
    this.folder = scratchFolder();
    this.stationFile = join(this.folder, "line-2.yaml");
    this.records = join(this.folder, "records");
  }

  /** The files alone, before anybody switches on. */
  static prepare(station: (text: string) => string = (text) => text): SimulatedScreen {
    const simulated = new SimulatedScreen();
    const demo = readFileSync("sim/demo-station.yaml", "utf8");
    const here = demo
      .replace("../limits/models", resolve("limits/models"))
      .replace("../simulated-records", simulated.records);
    writeFileSync(simulated.stationFile, station(here));
    // What was learned of the models lies beside the station file and is named after it.
    for (const name of readdirSync("sim").filter((file) => /^demo-station\..*\.json$/.test(file))) {
      copyFileSync(join("sim", name), join(simulated.folder, name.replace("demo-station", "line-2")));
    }
    return simulated;
  }

  /** Switched on, the cautions read. */
  static async begin({ station, ...setup }: ScreenSetup = {}): Promise<SimulatedScreen> {
    const simulated = SimulatedScreen.prepare(station);
    await simulated.switchOn(setup);
    await simulated.readCautions();
    return simulated;
  }

  async switchOn({
    args = [],
    speed = SPEED,
    columns,
    rows,
    environment,
  }: Omit<ScreenSetup, "station"> = {}): Promise<void> {
    this.#screen = await TmuxScreen.open({
      args: [
        "run",
        "--simulate",
        "--station",
        this.stationFile,
        "--model",
        "POD-4",
        "--records",
        this.records,
        "--speed",
        String(speed),
        ...args,
      ],
      ...(columns === undefined ? {} : { columns }),
      ...(rows === undefined ? {} : { rows }),
      ...(environment === undefined ? {} : { environment }),
    });
  }

  get screen(): TmuxScreen {
    if (!this.#screen) throw new Error("The station is not switched on.");
    return this.#screen;
  }

  /** The cautions are shown before anything moves; Enter goes on once the station is open. */
  async readCautions(): Promise<void> {
    await this.screen.until(
      "Read the cautions, then press Enter.",
      "evacuated or pressurised",
      "The fixture moves and clamps by itself",
      "mains motor",
      "not the safety function",
      /SIMULATED/,
    );
    await this.screen.press("Enter");
  }

  /** Presses Enter on an empty line, as often as a reference piece is due, and starts each. */
  async proveStation(): Promise<void> {
    for (const [i, piece] of ["REF-TIGHT-POD-4", "REF-LEAK-POD-4", "REF-ORIFICE-POD-4"].entries()) {
      await this.screen.until(`Reference check, step ${i + 1} of 3: press Enter: ${piece} is put on`);
      await this.screen.press("Enter");
      await this.start(piece);
      await this.screen.until(`Reference piece ${piece} reads as certified.`);
    }
  }

  /** Waits until it is armed, and starts it. */
  async start(serial: string): Promise<void> {
    const isArmed = new RegExp(`hands clear, then press Enter or the start button: .*${serial}`);
    const armed = await this.screen.look((flat) => isArmed.test(flat));
    await this.screen.press("Enter");
    // On a busy machine its test may be over by the next look; a verdict that stood there before is none of it.
    const isTaken = new RegExp(`Keep clear and wait: .*${serial} is being tested`);
    const verdict = new RegExp(verdictOf(serial));
    const wasJudged = verdict.test(armed);
    await this.screen.look((flat) => isTaken.test(flat) || (!wasJudged && verdict.test(flat)));
  }

  /**
   * Scans a failed unit, again after each refusal, until the pause before its retest is over, and says why it is
   * tested again.
   * @param reason the number that is typed
   * @returns the first refusal, if it came too soon
   */
  async scanForRetest(serial: string, reason: number): Promise<string | null> {
    const refusal = new RegExp(`${serial} failed [0-9]+ s ago and has to cool: test it again in [0-9]+ s`);
    const asked = `Why is ${serial} tested again? Type the number of the reason, then press Enter.`;
    let first: string | null = null;
    for (let last: string | null = null; ; ) {
      await this.screen.scan(serial);
      // Two refusals in the same second of the plant's time read alike: after a while it is scanned again.
      let looks = 0;
      const seen = await this.screen.look(
        (flat) =>
          flat.includes(asked) || (refusal.exec(flat)?.[0] ?? last) !== last || ++looks > LOOKS_BEFORE_RESCAN,
      );
      if (seen.includes(asked)) break;
      last = refusal.exec(seen)?.[0] ?? last;
      first ??= last;
    }
    await this.screen.scan(String(reason));
    return first;
  }

  /** Scans a unit, which its hands put on, and starts it. @returns the screen with its verdict */
  async test(serial: string): Promise<string> {
    await this.screen.scan(serial);
    await this.start(serial);
    return this.verdict(serial);
  }

  /** @returns the screen with the verdict of a test that runs */
  verdict(serial: string): Promise<string> {
    return this.screen.until(new RegExp(verdictOf(serial)));
  }

  /** Acknowledges a stop, and waits until the station is ready again. */
  async acknowledge(): Promise<void> {
    await this.screen.press("Tab");
    await this.screen.until(/[Pp]ress Enter: /);
  }

  /** Does something to the plant: `guard open`, `bad-day leak_gauge silent`. */
  async simulate(words: string): Promise<void> {
    await this.screen.scan(`sim ${words}`);
  }

  /** Leaves by q and Enter. @returns the exit code and what was said last */
  async leave(): Promise<{ code: number; shown: string }> {
    await this.screen.scan("q");
    return this.screen.ended();
  }

  travellers(): Promise<Traveller[]> {
    return travellersIn(this.records);
  }

  /** Records of one of the station's logs, in order. */
  log(name: "dispositions" | "events"): Record<string, unknown>[] {
    const folder = join(this.records, name);
    if (!existsSync(folder)) return [];
    return readdirSync(folder)
      .filter((file) => /^\d+\.json$/.test(file))
      .sort()
      .map((file) => JSON.parse(readFileSync(join(folder, file), "utf8")));
  }
}
