import { cpus } from "node:os";
import type { Bench } from "./figure.ts";
import { type NamedFigure, table } from "./table.ts";

/** Each bench is loaded only when it runs. A new one: a file beside this one, and a line here. */
const BENCHES: Readonly<Record<string, () => Promise<Bench>>> = {
  "start-up": async () => (await import("./start-up.ts")).startUp,
  "first-frame": async () => (await import("./first-frame.ts")).firstFrame,
  "screen-cpu": async () => (await import("./screen-cpu.ts")).screenCpu,
  traveller: async () => (await import("./traveller.ts")).traveller,
  replay: async () => (await import("./replay.ts")).replay,
  "study-values": async () => (await import("./study-values.ts")).studyValues,
  yield: async () => (await import("./yield.ts")).yieldBench,
  audit: async () => (await import("./audit.ts")).auditBench,
  index: async () => (await import("./index-rebuild.ts")).indexRebuild,
  fit: async () => (await import("./fit.ts")).fit,
  "line-speed": async () => (await import("./line-speed.ts")).lineSpeed,
  soak: async () => (await import("./soak.ts")).soak,
  stop: async () => (await import("./stop.ts")).stop,
  shift: async () => (await import("./shift.ts")).shift,
  "leak-step": async () => (await import("./leak-step.ts")).leakStep,
  "early-warning": async () => (await import("./early-warning.ts")).earlyWarning,
  "airflow-step": async () => (await import("./airflow-step.ts")).airflowStep,
};

async function main(args: readonly string[]): Promise<number> {
  const asJson = args.includes("--json");
  const asked = args.filter((arg) => arg !== "--json");
  const unknown = asked.filter((name) => !Object.hasOwn(BENCHES, name));
  if (unknown.length > 0) {
    process.stderr.write(
      `There is no bench ${unknown.join(", ")}; there are: ${Object.keys(BENCHES).join(", ")}. --json prints an array.\n`,
    );
    return 2;
  }
  const figures: NamedFigure[] = [];
  for (const [bench, load] of Object.entries(BENCHES)) {
    if (asked.length > 0 && !asked.includes(bench)) continue;
    const run = await load();
    figures.push(...(await run()).map((figure) => ({ bench, ...figure })));
  }
  if (asJson) {
    process.stdout.write(`${JSON.stringify(figures)}\n`);
  } else {
    process.stdout.write(`Node ${process.version}, ${cpus().length} cores\n\n${table(figures)}`);
  }
  return 0;
}

process.exitCode = await main(process.argv.slice(2));
