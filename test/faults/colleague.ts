import type { RandomStream } from "../../sim/random.ts";
import { randomStream } from "../../sim/random.ts";
import type { FinishedAttempt } from "../../station/recording.ts";
import type { Disposition, DispositionDraft } from "../../station/records/disposition.ts";
import { DispositionLog } from "../../station/records/disposition-log.ts";
import { RecordError } from "../../station/records/record-error.ts";
import type { KeptRecords } from "./kept-records.ts";
import { type DiskState, ModelledDisk } from "./modelled-disk.ts";
import type { Shift } from "./shift.ts";
import type { Told } from "./told.ts";

/** A hold that somebody was told is recorded. */
interface Hold {
  readonly serial: string;
  readonly attempt: number;
  readonly traveller: string;
  readonly number: number;
  /** The station looks at what was decided later than this before it starts the unit, and before it tells its verdict. */
  readonly seenFrom_s: number;
}

/** Between the station's look at what was decided and what it makes of it: a disk may be slow, and the program held up. */
const LOOKED_WITHIN_s = 15;
/** No unit waits for its start, so that the next one is looked at when it is scanned. */
const NOTHING_ARMED: ReadonlySet<string> = new Set(["ready", "needsReference"]);

/** Somebody beside the station who stops units that were tested, each by a program of its own, and lets some of them go again. */
export class Colleague {
  readonly #shift: Shift;
  readonly #disk: DiskState;
  readonly #random: RandomStream;
  /** Standing, as far as anybody can be sure. */
  readonly #held: Hold[] = [];
  /** Everything whose number was told. */
  readonly #recorded: Hold[] = [];
  #powerCuts = 0;

  constructor(shift: Shift, disk: DiskState) {
    this.#shift = shift;
    this.#disk = disk;
    this.#random = randomStream(shift.seed, "colleague");
  }

  /** Now and then, while the station tests nothing. */
  async comesBy(): Promise<void> {
    const tested = this.#tested();
    if (tested.length === 0 || !this.#random.chance(0.12)) return;
    const [known] = this.#held;
    if (known && this.#random.chance(0.5)) await this.#lift(known);
    else if (NOTHING_ARMED.has(this.#shift.state)) await this.#hold(this.#random.pick(tested), 0);
  }

  /** Now and then, while this unit is tested. */
  interrupts(serial: string): void {
    const before = this.#tested().findLast(({ traveller }) => traveller.serial === serial);
    if (!before || !this.#random.chance(0.3)) return;
    this.#shift.world.setTimeout(() => {
      if (this.#shift.state === "testing") void this.#hold(before, LOOKED_WITHIN_s);
    }, 1000 * this.#random.between(0, 10));
  }

  /** Every program of the machine has ended. */
  powerCut(): void {
    this.#powerCuts++;
  }

  sawStart(serial: string, number: number): void {
    const hold = this.#held.find((it) => it.serial === serial && it.seenFrom_s < this.#shift.world.now_s());
    if (!hold) return;
    const text = `${serial} attempt ${number} began, though hold ${hold.number} was recorded`;
    this.#shift.violated({ invariant: "held unit let through", text });
  }

  sawVerdict({ traveller: { kind, serial, attempt, verdict }, against }: FinishedAttempt): void {
    const hold = this.#held.find((it) => it.serial === serial && it.seenFrom_s < this.#shift.world.now_s());
    if (kind !== "unit" || !hold || against !== undefined) return;
    const text = `${verdict} of ${serial} attempt ${attempt.number} was told without a word of hold ${hold.number}`;
    this.#shift.violated({ invariant: "held unit let through", text });
  }

  /** @returns holds that somebody was told are recorded, and are not there */
  lost({ dispositions }: KeptRecords): string[] {
    return this.#recorded.flatMap(({ number, serial, traveller }) => {
      const kept = dispositions.find(({ content }) => content.chain.sequence === number)?.content;
      const isThere = kept?.kind === "hold" && kept.units.some((unit) => unit.traveller === traveller);
      return isThere ? [] : [`hold ${number} of ${serial} was recorded and is not there`];
    });
  }

  #tested(): Told[] {
    return this.#shift.witness.told.filter(({ traveller }) => traveller.kind === "unit");
  }

  /** @param seenAfter_s the station may have looked at what was decided before this, and not have made anything of it */
  async #hold(told: Told, seenAfter_s: number): Promise<void> {
    const { serial, attempt } = told.traveller;
    const unit = { serial, attempt: attempt.number, traveller: told.sha256 };
    const recorded = await this.#decide({
      kind: "hold",
      by: { name: "A. Marsh", sign_in: "stated" },
      units: [unit],
      reason: { code: "ON_HOLD", sentence: "Dented at the latch." },
    });
    if (!recorded) return;
    const hold = {
      ...unit,
      number: recorded.chain.sequence,
      seenFrom_s: this.#shift.world.now_s() + seenAfter_s,
    };
    this.#held.push(hold);
    this.#recorded.push(hold);
    this.#shift.counts.holds_by_hand++;
    this.#shift.tell(`on hold by hand: ${serial}, hold ${hold.number}`);
  }

  async #lift(hold: Hold): Promise<void> {
    // Whether it is recorded or not: from now on nobody can be sure.
    this.#held.splice(this.#held.indexOf(hold), 1);
    const { serial, attempt, traveller } = hold;
    this.#shift.tell(`hold ${hold.number} is to be lifted`);
    await this.#decide({
      kind: "accept",
      by: { name: "B. Imani", sign_in: "stated" },
      units: [{ serial, attempt, traveller }],
      reason: { code: "RELEASED", sentence: "It is only a scratch." },
      lifts: [hold.number],
    });
  }

  /** @returns null where it could not be recorded, or the power was cut */
  async #decide(draft: DispositionDraft): Promise<Disposition | null> {
    const { world } = this.#shift;
    const before = this.#powerCuts;
    const isRunning = () => this.#powerCuts === before;
    const disk = new ModelledDisk(this.#disk, {
      isRunning,
      setTimeout: (fn, delay_ms) => world.setTimeout(fn, delay_ms),
    });
    const log = new DispositionLog(this.#shift.recordsFolder, disk);
    let answer: Disposition | Error | null = null;
    log.append(draft, world.wall_ms()).then(
      (recorded) => {
        answer = recorded;
      },
      (error: Error) => {
        answer = error;
      },
    );
    await this.#shift.until(() => answer !== null || !isRunning(), "a decision beside the station");
    const found = answer as Disposition | Error | null;
    if (!(found instanceof Error)) return isRunning() ? found : null;
    this.#shift.tell(`could not be decided: ${found.message.slice(0, 120)}`);
    if (!(found instanceof RecordError))
      this.#shift.violated({ invariant: "program fault", text: found.stack ?? found.message });
    return null;
  }
}
