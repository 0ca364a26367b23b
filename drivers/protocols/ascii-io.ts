import { Conversation } from "../conversation.ts";
import type { Exchange } from "../exchange.ts";
import { type Clock, DriverError, type Levels, type Transport } from "../ports.ts";
import type { IoBlockProfile } from "../profile.ts";
import { quoteRaw } from "../raw-line.ts";
import { identify } from "./identify.ts";
import { IoBlock, type IoBlockState, type IoBlockWords, watchdogTripped } from "./io-block.ts";
import { parseState, setCommand } from "./io-block-lines.ts";

export interface AsciiIoBlockOptions {
  /** The block's name in the station file. */
  readonly name: string;
  readonly profile: IoBlockProfile;
  readonly transport: Transport;
  readonly clock: Clock;
}

/** An I/O block that is spoken to in lines: SET, GET, BEAT, RESET, ID?. */
export class AsciiIoBlock extends IoBlock {
  constructor({ name, profile, transport, clock }: AsciiIoBlockOptions) {
    super({
      ...{ name, transport, clock },
      outputs: profile.outputs,
      waitAfterOpen_s: profile.waitAfterOpen_s,
      replyWithin_s: profile.replyWithin_s,
      pollEvery_s: profile.pollEvery_s,
      beatEvery_s: profile.beatEvery_s,
      conversation: new Conversation(),
      wordsFor: (exchange) => new AsciiWords(exchange, name, profile, clock),
    });
  }
}

class AsciiWords implements IoBlockWords {
  readonly #exchange: Exchange;
  readonly #name: string;
  readonly #profile: IoBlockProfile;
  readonly #clock: Clock;
  /** The last answer to GET and what it says: most answers are like the one before. */
  #last: { readonly answer: string; readonly state: IoBlockState } | undefined;

  constructor(exchange: Exchange, name: string, profile: IoBlockProfile, clock: Clock) {
    this.#exchange = exchange;
    this.#name = name;
    this.#profile = profile;
    this.#clock = clock;
  }

  /** Any command keeps the watchdog quiet. */
  get quietenedAt_s(): number {
    return this.#exchange.idle ? this.#exchange.lastSent_s : this.#clock.now_s();
  }

  identify(): Promise<string> {
    return identify(this.#exchange, this.#name, this.#profile.identity);
  }

  async state(): Promise<IoBlockState> {
    const { outputs, inputs } = this.#profile;
    const answer = await this.#exchange.ask("GET");
    if (answer === this.#last?.answer) return this.#last.state;
    const state = parseState(answer, outputs, inputs);
    if (!state) throw this.#outOfStep("GET", answer);
    this.#last = { answer, state };
    return state;
  }

  set(levels: Levels): Promise<void> {
    return this.#command(setCommand(levels));
  }

  beat(): Promise<void> {
    return this.#command("BEAT");
  }

  reset(): Promise<void> {
    return this.#command("RESET");
  }

  async #command(command: string): Promise<void> {
    const answer = await this.#exchange.ask(command);
    if (answer === "OK") return;
    if (answer === "ERR WATCHDOG") throw watchdogTripped(this.#name);
    if (!/^ERR \w+$/.test(answer)) throw this.#outOfStep(command, answer);
    const message = `${this.#name} answered ${quoteRaw(answer)} to ${JSON.stringify(command)}; check that its profile is the one for this I/O block.`;
    throw new DriverError("INSTRUMENT_ERROR", this.#name, message);
  }

  #outOfStep(command: string, answer: string): DriverError {
    const message = `${this.#name} answered ${quoteRaw(answer)} to ${JSON.stringify(command)}, which its profile does not expect; check the cable and the line settings.`;
    const error = new DriverError("REPLY_MALFORMED", this.#name, message);
    this.#exchange.fail(error);
    return error;
  }
}
