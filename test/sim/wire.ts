import type { FarEnd } from "../../drivers/ports.ts";

/** The station's end of a simulated cable: what it heard, what it says. */
export class TestCable {
  readonly far: FarEnd;
  heard = "";
  isHungUp = false;
  #toInstrument: (bytes: string) => void = () => {};

  constructor() {
    this.far = {
      send: (bytes) => {
        if (!this.isHungUp) this.heard += bytes;
      },
      onBytes: (handler) => {
        this.#toInstrument = handler;
      },
      hangUp: () => {
        this.isHungUp = true;
      },
    };
  }

  say(bytes: string): void {
    this.#toInstrument(bytes);
  }

  /** Whole lines heard since the last call. */
  lines(): string[] {
    const end = this.heard.lastIndexOf("\n") + 1;
    const whole = this.heard.slice(0, end);
    this.heard = this.heard.slice(end);
    return whole.split(/\r?\n/).slice(0, -1);
  }
}
