import { writeFileSync } from "node:fs";
import { monitorEventLoopDelay } from "node:perf_hooks";
import { Conversation } from "../../drivers/conversation.ts";

// Loaded by `node --import .../line-meter.js?to=FILE` before the station: counts the numbered lines of the leak gauge that
// its driver hears, and the numbers that are missing or come twice between them. At the end it writes what it counted,
// and what the process has taken. Work at import is what a preloaded module is for.
const to = new URL(import.meta.url).searchParams.get("to") ?? "";
const NUMBERED = /^N=(\d{6}) /;
const NUMBERS = 1_000_000;

let lines = 0;
let missing = 0;
let last: number | null = null;
let first_s = 0;
let last_s = 0;
let connections = 0;

const { heard, noted } = Conversation.prototype;
Conversation.prototype.heard = function (this: Conversation, raw: string, t_s: number) {
  const number = NUMBERED.exec(raw)?.[1];
  if (number !== undefined) count(Number(number), t_s);
  heard.call(this, raw, t_s);
};
Conversation.prototype.noted = function (this: Conversation, what: string, t_s: number) {
  if (what.startsWith("cable closed:")) connections++;
  noted.call(this, what, t_s);
};

function count(number: number, t_s: number): void {
  if (last === null) first_s = t_s;
  else missing += (number - last - 1 + NUMBERS) % NUMBERS;
  last = number;
  last_s = t_s;
  lines++;
}

const delay = monitorEventLoopDelay({ resolution: 5 });
delay.enable();

process.on("exit", () => {
  const { user, system } = process.cpuUsage();
  writeFileSync(
    to,
    JSON.stringify({
      lines,
      missing,
      over_s: last_s - first_s,
      lost_cables: connections,
      cpu_s: (user + system) / 1e6,
      uptime_s: process.uptime(),
      peak_MB: process.resourceUsage().maxRSS / 1024,
      longest_turn_s: delay.max / 1e9,
    }),
  );
});
