import { expect, it } from "vitest";
import { drumtight, events } from "./command-line.ts";
import { ServedStation, testedValidly } from "./served-station.ts";

it("a station that stood still while it measured voids the unit, finds its outputs dropped, and passes the unit at the next scan", {
  timeout: 120_000,
}, async () => {
  // Good units all; one may be tested three times.
  const about = ["--seed", "6", "--count", "3"];
  const station = new ServedStation("tcp", about);
  try {
    await station.ready();
    const { stdout } = await drumtight(["sim", "units", "--limits", station.limits, "--json", ...about]);
    const scan = `${events(stdout)[0]?.serial} tub_cavity=P1`;
    const run = station.run(["--start", "button"]);
    run.type(scan);
    await run.waitFor(({ event, phase }) => event === "phase" && phase === "measure");
    run.child.kill("SIGSTOP");
    // Twice as long as the I/O block's watchdog waits.
    await new Promise((resolve) => setTimeout(resolve, 2_000));
    run.child.kill("SIGCONT");
    const stood = await run.waitFor(({ event }) => event === "unit");
    expect(stood.verdict).toBe("void");
    const codes = (stood.reasons as { code: string }[]).map(({ code }) => code);
    expect(codes).toContain("INSTRUMENT_FAULT");
    expect(JSON.stringify(stood.reasons)).toContain("its watchdog tripped and dropped the outputs");
    const next = await testedValidly(run, scan, 2);
    expect(next).toMatchObject({ verdict: "pass", reasons: [] });
    run.child.stdin?.end();
    await run.ended;
  } finally {
    await station.close();
  }
});
