import type { Clock } from "../drivers/ports.ts";
import type { Reason } from "./cycle/reason.ts";

export interface StartButtonOptions {
  readonly clock: Clock;
  /** Name of the I/O block it hangs on. */
  readonly ioBlock: string;
  readonly pressed: () => void;
  /** It has been down for longer than any press, and again every five seconds until it is up. */
  readonly stuck: (reason: Reason) => void;
}

/** Longer than anybody presses it; common practice, no source. */
const LONGEST_PRESS_s = 5;

/**
 * The fixture's start button. Only a press counts that was seen to begin: the button must have been up after the
 * unit was armed. A stuck or wedged button would otherwise start a test with hands still in the fixture.
 */
export class StartButton {
  readonly #options: StartButtonOptions;
  #isDown = false;
  /** Whether the press going on was taken for a start. */
  #hasCounted = false;
  /** What a press means now. */
  #expected: "nothing" | "asking" | "release" | "start" = "nothing";
  #asked: object = {};
  #timer: unknown;

  constructor(options: StartButtonOptions) {
    this.#options = options;
  }

  /** The input's level, whenever it is told. */
  seen(isDown: boolean): void {
    if (isDown === this.#isDown) return;
    this.#isDown = isDown;
    this.#options.clock.clearTimeout(this.#timer);
    if (!isDown) {
      this.#hasCounted = false;
      if (this.#expected === "release") this.#expected = "start";
      return;
    }
    this.#tellWhenStuck();
    if (this.#expected !== "start") return;
    this.#hasCounted = true;
    this.#options.pressed();
  }

  /**
   * A unit has been armed.
   * @param readLevel asks for the input's level now; true is down. Its failure reaches whoever watches the inputs.
   */
  expect(readLevel: () => Promise<boolean>): void {
    const asked = {};
    this.#asked = asked;
    this.#expected = "asking";
    readLevel().then(
      (isDown) => {
        if (this.#asked === asked) this.#expected = isDown ? "release" : "start";
      },
      () => undefined,
    );
  }

  /** Why nothing may start: it is down, and that is not the press that started. */
  refusal(): Reason | null {
    return this.#isDown && !this.#hasCounted ? this.#reason() : null;
  }

  /** Tells nothing from here on. */
  forget(): void {
    this.#asked = {};
    this.#expected = "nothing";
    this.#options.clock.clearTimeout(this.#timer);
  }

  #tellWhenStuck(): void {
    const { clock, stuck } = this.#options;
    this.#timer = clock.setTimeout(() => {
      this.#tellWhenStuck();
      stuck(this.#reason());
    }, LONGEST_PRESS_s * 1000);
  }

  #reason(): Reason {
    const sentence =
      "The start button is stuck or held down. Let go of it; if it stays down, have it mended before the next unit.";
    return { code: "START_BUTTON_STUCK", sentence, instrument: this.#options.ioBlock };
  }
}
