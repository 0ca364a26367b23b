import { LINE_BAD_DAYS, LineInstrument } from "./line-instrument.ts";
import type { InstrumentOptions } from "./plugged-instrument.ts";
import type { Sensor } from "./sensor.ts";

const USUAL_LINES_PER_s = 50;
const NUMBERS = 1_000_000;
/** Lines skipped at a time on a day when lines go missing, and how often. */
const SKIP_EVERY = 50;
/** What no gas does: so far off, one line in so many, or for good. */
const JUMP_Pa = 300;
const JUMP_EVERY = 40;
/** How long lines lie in somebody's buffer before they come all at once: less than any profile calls silence. */
const BUNCH_s = 0.8;
/** What a gauge shows that has lost its calibration, over the truth. */
const OFF_CALIBRATION = 1.08;

/**
 * A pressure gauge that streams from power-up, as a rule fifty lines a second: `N=004711 P=-7998.42 S=0`. It counts on
 * whether or not somebody listens.
 */
export class StreamPressureGauge extends LineInstrument {
  readonly badDays = [
    ...LINE_BAD_DAYS,
    "stuck",
    "over_range",
    "sensor_fault",
    "skips",
    "jumps",
    "shifted",
    "bunched",
    "off_calibration",
  ];
  readonly #pressure_Pa: (t_s: number) => number;
  readonly #sensor: Sensor;
  readonly #linesPer_s: number;
  readonly #powerUp_s: number;
  #isRunning = false;
  #next = 0;
  #stuck_Pa: number | null = null;
  #bunch: string[] = [];

  /** @param pressure_Pa true gauge pressure at a time */
  constructor(
    options: InstrumentOptions,
    sensor: Sensor,
    pressure_Pa: (t_s: number) => number,
    linesPer_s = USUAL_LINES_PER_s,
  ) {
    super(options, "\r\n");
    this.#linesPer_s = linesPer_s;
    this.#sensor = sensor;
    this.#pressure_Pa = pressure_Pa;
    this.#powerUp_s = this.clock.now_s();
  }

  protected override receive(command: string): void {
    if (command !== "ID?") return;
    const isWrong = this.badDay === "wrong_identity";
    this.answerAfter(0.002, () =>
      isWrong ? "ID=STREAM-FORCE;SN=0099;FW=1.0" : "ID=STREAM-PRESSURE;SN=0001;FW=1.0",
    );
  }

  protected override plugged(): void {
    super.plugged();
    if (this.#isRunning) return;
    this.#isRunning = true;
    this.#next = Math.floor((this.clock.now_s() - this.#powerUp_s) * this.#linesPer_s) + 1;
    this.#await();
  }

  protected override dayChanged(badDay: string | null): void {
    this.#stuck_Pa = badDay === "stuck" ? this.#read(this.clock.now_s()) : null;
    if (badDay !== "bunched") this.#deliver();
  }

  #await(): void {
    const due_s = this.#powerUp_s + this.#next / this.#linesPer_s;
    this.clock.setTimeout(() => this.#tick(), (due_s - this.clock.now_s()) * 1000);
  }

  readonly #tick = (): void => {
    if (!this.isPlugged) {
      this.#isRunning = false;
      return;
    }
    // A real clock's timers come late: whatever is due by now goes out now.
    const due = Math.floor((this.clock.now_s() - this.#powerUp_s) * this.#linesPer_s + 1e-6);
    for (; this.#next <= due; this.#next++) this.#emit(this.#next);
    this.#await();
  };

  #emit(index: number): void {
    const t_s = this.#powerUp_s + index / this.#linesPer_s;
    const pressure_Pa = this.#shown(index, this.#stuck_Pa ?? this.#read(t_s));
    if (this.badDay === "skips" && index % SKIP_EVERY === 0) return;
    const number = String(index % NUMBERS).padStart(6, "0");
    const sign = pressure_Pa < 0 ? "-" : "+";
    const state = this.badDay === "over_range" ? 1 : this.badDay === "sensor_fault" ? 2 : 0;
    const line = `N=${number} P=${sign}${Math.abs(pressure_Pa).toFixed(2)} S=${state}`;
    if (this.badDay !== "bunched") {
      this.sendLine(line);
      return;
    }
    if (this.#bunch.length === 0) this.clock.setTimeout(() => this.#deliver(), BUNCH_s * 1000);
    this.#bunch.push(line);
  }

  #deliver(): void {
    const bunch = this.#bunch;
    this.#bunch = [];
    for (const line of bunch) this.sendLine(line);
  }

  #shown(index: number, pressure_Pa: number): number {
    switch (this.badDay) {
      case "jumps":
        return index % JUMP_EVERY === 0 ? pressure_Pa + JUMP_Pa : pressure_Pa;
      case "shifted":
        return pressure_Pa - JUMP_Pa;
      case "off_calibration":
        return pressure_Pa * OFF_CALIBRATION;
      default:
        return pressure_Pa;
    }
  }

  #read(t_s: number): number {
    return this.#sensor.read(t_s, this.#pressure_Pa(t_s));
  }
}
