import { type Clock, DriverError } from "../drivers/ports.ts";
import type { Reason } from "./cycle/reason.ts";
import type { Fixture } from "./fixture.ts";
import type { Flight } from "./flight/tape-keeper.ts";

export interface InstrumentReachParts {
  readonly fixture: Pick<Fixture, "connect">;
  readonly clock: Pick<Clock, "setTimeout">;
  readonly flight: Flight | null;
  /** The station's state by its name, as the machine has it. */
  readonly state: () => string;
  readonly guardOpened: () => void;
  readonly startPressed: () => void;
  readonly fault: (reason: Reason) => void;
}

const TRIES = 4;
/** Longer than a block's watchdog waits: tries that can't be read must not keep its outputs on. */
const PAUSE_ms = 1500;
/** States in which a start button that is down is nobody's concern, or was told of already. */
const UNDER_WAY: ReadonlySet<string> = new Set(["checking", "testing", "recovering", "faulted"]);

/** Connects a station to all its instruments, afresh each time, and passes on what its inputs tell. */
export class InstrumentReach {
  readonly #parts: InstrumentReachParts;
  #isEnding = false;

  constructor(parts: InstrumentReachParts) {
    this.#parts = parts;
  }

  /** The program is about to end: whoever is waiting for another try gives up. */
  end(): void {
    this.#isEnding = true;
  }

  /** @throws DriverError when an instrument can't be reached */
  async connect(): Promise<void> {
    const { fixture, flight, state, guardOpened, startPressed, fault } = this.#parts;
    flight?.recorder.connecting();
    await fixture.connect({
      guard: (isClosed) => {
        if (!isClosed) guardOpened();
      },
      startPressed,
      startStuck: (reason) => {
        if (!UNDER_WAY.has(state())) fault(reason);
      },
      fault,
    });
    flight?.recorder.connected();
  }

  /** A port that was just closed, or a cable just put back, may need a moment. @throws DriverError after the last try */
  async connectPatiently(): Promise<void> {
    for (let left = TRIES - 1; ; left--) {
      try {
        return await this.connect();
      } catch (error) {
        if (left <= 0 || this.#isEnding || !(error instanceof DriverError)) throw error;
        await new Promise<void>((resolve) => {
          this.#parts.clock.setTimeout(() => resolve(), PAUSE_ms);
        });
      }
    }
  }
}
