import type { Clock } from "../../drivers/ports.ts";
import type { StationController } from "../controller.ts";
import type { Reason } from "../cycle/reason.ts";
import type { ModelInForce } from "../cycle/refusals.ts";
import type { Scan } from "../cycle/station-machine.ts";
import { NOBODY } from "../people/person.ts";
import type { Tally } from "../report.ts";
import type { StationFile } from "../station-file.ts";
import type { Key } from "./keys.ts";
import { type Deed, press } from "./press.ts";
import {
  afterLook,
  afterNews,
  type News,
  NO_COUNTS,
  type Observed,
  type ReferenceOnScreen,
  type ScreenState,
  startState,
} from "./screen-state.ts";
import type { SimulatedLine } from "./simulated-line.ts";

/** Channels worth showing while a test runs. */
const SHOWN_CHANNELS = ["leak_pressure", "source_pressure", "suction", "flow", "power"] as const;

/** Frames are drawn at most this often; looking oftener would show nothing more. */
const LOOK_EVERY_ms = 100;
/** States that end by themselves in a moment; nobody may leave in the middle of one. */
const UNDER_WAY: ReadonlySet<string> = new Set(["identifying", "checking", "testing", "recovering"]);

export interface DeskParts {
  readonly station: StationController;
  readonly clock: Clock;
  readonly file: StationFile;
  /** Models on the line. */
  readonly models: readonly ModelInForce[];
  readonly allowDrafts: boolean;
  readonly tally: Tally;
  /** Given on a simulated station. */
  readonly line?: SimulatedLine;
  readonly inspector?: string;
  readonly remark?: string;
}

/** Between the station and the screen: hears the one, obeys the keys of the other, and keeps what is shown. */
export class Desk {
  readonly #parts: DeskParts;
  readonly #watchers = new Set<() => void>();
  #state: ScreenState;
  #timer: unknown;
  #left: () => void = () => {};
  #leftAtOnce: () => void = () => {};
  /** Resolves when somebody has asked to leave and nothing runs any more: the station may be closed. */
  readonly left: Promise<void>;
  /** Resolves when somebody asks to leave for the second time and will not wait. */
  readonly leftAtOnce: Promise<void>;

  constructor(parts: DeskParts) {
    this.#parts = parts;
    this.left = new Promise((resolve) => {
      this.#left = resolve;
    });
    this.leftAtOnce = new Promise((resolve) => {
      this.#leftAtOnce = resolve;
    });
    const { file, models, allowDrafts, line, inspector, remark } = parts;
    const drafts = models.filter(({ notApproved }) => allowDrafts && notApproved !== null);
    this.#state = startState(
      {
        name: file.name,
        isSimulated: file.isSimulated,
        handsAreSimulated: line !== undefined,
        signIn: file.signIn === "name" ? "name" : "off",
        readsFlow: file.gauges.some(({ channels }) => channels.has("flow")),
        draftModels: drafts.map(({ limits }) => limits.model),
      },
      this.#look(),
      {
        who: inspector === undefined ? NOBODY : { name: inspector, role: null, how: "stated" },
        remark: remark ?? null,
      },
    );
    this.#listen();
    this.#lookLater();
  }

  get state(): ScreenState {
    return this.#state;
  }

  /** @returns stop */
  watch(changed: () => void): () => void {
    this.#watchers.add(changed);
    return () => {
      this.#watchers.delete(changed);
    };
  }

  key(key: Key): void {
    const { state, deed } = press(afterLook(this.#state, this.#look()), key);
    this.#show(state);
    this.#do(deed);
  }

  /** As Ctrl-C does. */
  leave(): void {
    if (this.#state.page !== "leaving") this.key({ kind: "interrupt" });
  }

  /** Looks no more. */
  close(): void {
    this.#parts.clock.clearTimeout(this.#timer);
    this.#watchers.clear();
  }

  #do(deed: Deed): void {
    const { station, line } = this.#parts;
    switch (deed.do) {
      case "sign_in":
        station.signIn(
          deed.inspector === null ? NOBODY : { name: deed.inspector, role: null, how: "stated" },
        );
        break;
      case "scan":
        this.#scan(deed.scan);
        break;
      case "put_on_next":
        if (line) station.scan(line.takeNext());
        break;
      case "start":
        station.start();
        break;
      case "abort":
        station.abort();
        break;
      case "leave":
        station.abortForStop();
        break;
      case "acknowledge":
        station.acknowledge();
        break;
      case "leave_at_once":
        this.#leftAtOnce();
        break;
      case "nothing":
        break;
    }
  }

  /** On a simulated station the body has to be put on first, and only where nothing is under way. */
  #scan(scan: Scan): void {
    const { station, line, models } = this.#parts;
    const isFree = !UNDER_WAY.has(station.state()) && station.state() !== "faulted";
    const isOurs = models.some(({ limits }) => limits.serialPattern.test(scan.serial));
    const isMissing = line !== undefined && isFree && !line.putOn(scan.serial) && isOurs;
    if (isMissing) this.#tell({ type: "refused", serial: scan.serial, reasons: [noBody(scan.serial)] });
    else station.scan(scan);
  }

  #listen(): void {
    const { station, tally } = this.#parts;
    station.listen({
      armed: (attempt) => this.#tell({ type: "armed", attempt }),
      started: (attempt) => {
        this.#tell({ type: "started", attempt });
        // Its own turn: the machine is still entering the state that hears an abort.
        if (this.#state.page === "leaving") queueMicrotask(() => station.abortForStop());
      },
      refused: (serial, reasons) => {
        tally.refused++;
        this.#tell({ type: "refused", serial, reasons });
      },
      finished: (finished) => {
        if (!finished.attempt.reference) tally.add(finished);
        this.#tell({ type: "finished", finished });
      },
      faulted: (reasons) => {
        tally.faults++;
        this.#tell({ type: "faulted", reasons });
      },
      recovered: () => this.#tell({ type: "recovered" }),
    });
  }

  #tell(news: News): void {
    this.#show(afterNews(this.#state, news));
    // The machine's state is the new one only when it has finished telling.
    queueMicrotask(() => this.#show(afterLook(this.#state, this.#look())));
  }

  #lookLater(): void {
    this.#timer = this.#parts.clock.setTimeout(() => {
      this.#show(afterLook(this.#state, this.#look()));
      if (this.#state.page === "leaving" && !UNDER_WAY.has(this.#parts.station.state())) this.#left();
      this.#lookLater();
    }, LOOK_EVERY_ms);
  }

  #look(): Observed {
    const { station, clock, tally, line } = this.#parts;
    const progress = station.progress();
    const readings: Record<string, number> = {};
    for (const channel of progress ? SHOWN_CHANNELS : []) {
      const value = station.newest(channel);
      if (value !== null) readings[channel] = value;
    }
    return {
      machine: station.state(),
      now_ms: clock.wall_ms(),
      progress,
      readings,
      reference: this.#reference(),
      counts: {
        ...NO_COUNTS,
        tested: tally.tested,
        ...tally.verdicts,
        inspected: tally.inspected,
        firstPassed: tally.firstPassed,
        firstPassYield: tally.firstPassYield,
      },
      next: line?.next ?? null,
      trace: null,
      timeLeft_s: null,
      conversations: [],
    };
  }

  #reference(): ReferenceOnScreen {
    const { station, file, models } = this.#parts;
    if (!file.referenceCheck) return { kind: "off" };
    const due = station.dueReferences();
    if (due.length > 0)
      return {
        kind: "due",
        pieces: due.map(({ serial, kind, model }) => ({ serial, kind, model, why: "interval" as const })),
        step: 1,
        of: due.length,
        warnings: [],
      };
    const checks = models.flatMap(({ limits }) => station.referenceState(limits.model).inForce?.at_ms ?? []);
    if (checks.length === 0) return { kind: "off" };
    const at_ms = Math.min(...checks);
    return {
      kind: "in_force",
      at_ms,
      until_ms: at_ms + file.referenceCheck.every_s * 1000,
      unitsLeft: null,
      warnings: [],
    };
  }

  #show(state: ScreenState): void {
    this.#state = state;
    for (const changed of this.#watchers) changed();
  }
}

function noBody(serial: string): Reason {
  return {
    code: "UNKNOWN_SERIAL",
    sentence: `The simulated line has no unit ${JSON.stringify(serial)}. Press Enter on an empty line for the next one.`,
  };
}
