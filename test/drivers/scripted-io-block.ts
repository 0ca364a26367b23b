import type { FarEnd } from "../../drivers/ports.ts";

export const SAFE = {
  source: 0,
  isolate: 0,
  vent: 1,
  motor: 0,
  orifice_1: 0,
  orifice_2: 0,
  orifice_3: 0,
  orifice_4: 0,
};

/** The block's own side, as its manual describes it; its watchdog runs only where it is given a clock. */
export class ScriptedIoBlock {
  outputs: Record<string, number> = { ...SAFE };
  inputs: Record<string, number> = { guard: 1, start: 0 };
  tripped = false;
  /** Outputs that stay as they are, whatever is commanded. */
  stuck: string[] = [];
  answer: (command: string, far: FarEnd) => string | undefined = (command) => this.#obey(command);
  lastHeard_s = 0;

  hear(command: string, far: FarEnd, now_s = 0): void {
    if (now_s - this.lastHeard_s > 1 && JSON.stringify(this.outputs) !== JSON.stringify(SAFE)) this.trip();
    this.lastHeard_s = now_s;
    const answer = this.answer(command, far);
    if (answer !== undefined) far.send(`${answer}\r\n`);
  }

  trip(): void {
    this.outputs = { ...SAFE };
    this.tripped = true;
  }

  #obey(command: string): string | undefined {
    if (command === "ID?") return "ID=ASCII-IO;SN=0001;FW=1.0";
    if (command === "BEAT") return "OK";
    if (command === "RESET") {
      this.tripped = false;
      return "OK";
    }
    if (command === "GET") {
      const list = (levels: Record<string, number>) =>
        Object.entries(levels)
          .map(([name, level]) => `${name}=${level}`)
          .join(" ");
      return `OUT ${list(this.outputs)} IN ${list(this.inputs)} WD=${this.tripped ? 1 : 0}`;
    }
    if (!command.startsWith("SET ")) return undefined;
    if (this.tripped) return "ERR WATCHDOG";
    const wanted = command
      .slice(4)
      .split(" ")
      .map((part) => part.split("="));
    if (wanted.some(([name = ""]) => !(name in this.outputs))) return "ERR NAME";
    for (const [name = "", level] of wanted)
      if (!this.stuck.includes(name)) this.outputs[name] = Number(level);
    return "OK";
  }
}
