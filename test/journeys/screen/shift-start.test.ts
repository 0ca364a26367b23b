import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, it } from "vitest";
import { drumtight } from "../command-line.ts";
import { SimulatedScreen } from "./simulated-screen.ts";

const SUPERVISOR = { name: "B. Imani", pin: "90517", badge: "B000001" };
const INSPECTOR = { name: "A. Marsh", pin: "4862", badge: "B000002" };

const signsPeopleIn = (text: string) =>
  text.replace(/^sign_in: .*$/m, 'sign_in: { people: people.json, badge: "^B[0-9]{6}$", idle: 2 h }');

/** Two people, added as a supervisor does it. */
async function addPeople(stationFile: string): Promise<void> {
  const added = await drumtight(
    ["people", "add", SUPERVISOR.name, "--role", "supervisor", "--badge", "--station", stationFile],
    "",
    { DRUMTIGHT_NEW_PIN: SUPERVISOR.pin, DRUMTIGHT_NEW_BADGE: SUPERVISOR.badge },
  );
  expect(added.code, added.stderr).toBe(0);
  const more = await drumtight(
    [
      ...["people", "add", INSPECTOR.name, "--role", "inspector", "--badge"],
      ...["--station", stationFile, "--as", SUPERVISOR.name],
    ],
    "",
    {
      DRUMTIGHT_PIN: SUPERVISOR.pin,
      DRUMTIGHT_NEW_PIN: INSPECTOR.pin,
      DRUMTIGHT_NEW_BADGE: INSPECTOR.badge,
    },
  );
  expect(more.code, more.stderr).toBe(0);
}

it("a shift: sign in, prove the station step by step, test, look at the shift, hand over", {
  timeout: 300_000,
}, async () => {
  const station = SimulatedScreen.prepare(signsPeopleIn);
  await addPeople(station.stationFile);
  await station.switchOn();
  const { screen } = station;
  await station.readCautions();

  await screen.until("Scan your badge; or type your name, then press Enter.");
  await screen.scan("POD531811");
  await screen.until("POD531811 came before signing in. Sign in, then scan it again.");
  await screen.scan(INSPECTOR.name);
  await screen.until("A. Marsh: type your PIN, then press Enter.");
  await screen.type(INSPECTOR.pin);
  const masked = await screen.until(/A\. Marsh, PIN: \S{4}/);
  expect(masked).not.toContain(INSPECTOR.pin);
  await screen.press("Enter");
  await screen.until("Demo station 1 A. Marsh", "Reference check: DUE, step 1 of 3");

  // No unit before the station is proven.
  await screen.scan("POD531811");
  await screen.until("POD531811 was not started. The reference check is due");
  await screen.scan("REF-TIGHT-POD-4");
  await station.start("REF-TIGHT-POD-4");
  await screen.until("Reference piece REF-TIGHT-POD-4 reads as certified.");
  for (const [step, piece] of [
    [2, "REF-LEAK-POD-4"],
    [3, "REF-ORIFICE-POD-4"],
  ] as const) {
    await screen.until(`Reference check, step ${step} of 3: press Enter: ${piece} is put on`);
    await screen.press("Enter");
    await station.start(piece);
    await screen.until(`Reference piece ${piece} reads as certified.`);
  }
  await screen.until("Reference check: passed");

  await screen.press("Enter");
  await station.start("POD531811");
  await screen.until("POD531811 is good", "Today: 1 test: 1 pass, 0 fail", "Last: POD531811 PASS");
  await screen.press("F2");
  await screen.until(/A\. Marsh/, /REF-TIGHT-POD-4/, /close this/);
  await screen.press("Escape");
  await screen.until("POD531811 is good");

  await screen.press("F4");
  await screen.until("Signed out. Whoever is next: scan your badge or press Enter.");
  await screen.scan(SUPERVISOR.badge);
  await screen.until("Demo station 1 B. Imani");
  expect((await station.leave()).code).toBe(0);

  const travellers = await station.travellers();
  expect(travellers.map(({ serial, verdict }) => [serial, verdict])).toEqual([
    ["REF-TIGHT-POD-4", "pass"],
    ["REF-LEAK-POD-4", "pass"],
    ["REF-ORIFICE-POD-4", "pass"],
    ["POD531811", "pass"],
  ]);
  for (const { who } of travellers)
    expect(who).toMatchObject({ inspector: INSPECTOR.name, role: "inspector" });
  const events = station.log("events");
  expect(events.map(({ event }) => event)).toEqual([
    "opened",
    "signed_in",
    "signed_out",
    "signed_in",
    "signed_out",
    "closed",
  ]);
  // A badge is a key: it stands nowhere in what the station keeps.
  for (const name of readdirSync(station.folder, { recursive: true, encoding: "utf8" })) {
    if (!/\.json$/.test(name)) continue;
    expect(readFileSync(join(station.folder, name), "utf8"), name).not.toMatch(/B00000[12]|"90517"|"4862"/);
  }
});
