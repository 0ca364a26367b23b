import { Command } from "@commander-js/extra-typings";
import type { PortFacts } from "../bring-up/serial-ports.ts";
import type { StationHost } from "../bring-up/station-ports.ts";
import type { StationFile } from "../station-file.ts";

/** `drumtight gauge list`: the ports of this computer. */
export function listCommand() {
  return new Command("list")
    .description("list the serial ports of this computer, and what the system knows of them")
    .option(
      "--station <file>",
      "tell which instrument of this station each belongs to, and what of it is missing",
    )
    .option("--json", "one JSON object per line")
    .addHelpText(
      "after",
      `
Use the name below /dev/serial/by-id, where there is one: it stays when the adapter is plugged in again.
No port is opened and nothing is sent. Device servers on the network are not searched for; those of the station file
are connected to and left at once, unless the station runs.

Examples:
  drumtight gauge list
  drumtight gauge list --station line-2.yaml`,
    )
    .action(async ({ station, json }) => {
      const { listSerialPorts } = await import("../bring-up/serial-ports.ts");
      const { readStationFileAlone } = await import("../load-station.ts");
      // Before anything is printed: a file with mistakes comes to nothing.
      const file = station === undefined ? null : readStationFileAlone(station);
      const { ports, notes } = listSerialPorts();
      if (file) await listStation(file, ports, json === true);
      else for (const port of ports) print(json ? jsonOf(port, []) : portText(port, []));
      if (ports.length === 0 && !file && !json) print("No serial ports.");
      for (const note of notes) process.stderr.write(`${note}\n`);
    });
}

/** The system's ports with the station's instruments at them, and whatever else the station names. */
async function listStation(file: StationFile, ports: readonly PortFacts[], json: boolean): Promise<void> {
  const { unlistedPort } = await import("../bring-up/serial-ports.ts");
  const { portless, stationHosts, stationPorts } = await import("../bring-up/station-ports.ts");
  const { stationThatRuns } = await import("../bring-up/station-that-runs.ts");
  const wanted = stationPorts(file, ports);
  const at = (path: string) => wanted.filter((one) => one.path === path).map(({ instrument }) => instrument);
  const own = new Map<string, PortFacts>();
  for (const { path, named } of wanted) {
    if (path !== null && !ports.some((port) => port.path === path)) own.set(path, unlistedPort(path, named));
  }
  for (const port of [...ports, ...own.values()]) {
    print(json ? jsonOf(port, at(port.path)) : portText(port, at(port.path)));
  }
  for (const { instrument, named, path } of wanted) {
    if (path !== null) continue;
    if (json) print(JSON.stringify({ instrument, port: named, found: false }));
    else print(`${instrument}: ${named} is not there; check that its adapter is plugged in.`);
  }
  const runs = stationThatRuns(file.recordsFolder);
  for (const host of stationHosts(file)) {
    const address = `${host.host}:${host.port}`;
    const { isThere, sentence } = await stateOf(host, runs);
    if (json)
      print(JSON.stringify({ instruments: host.instruments, address, found: isThere, state: sentence }));
    else print(`${address}\n  ${sentence}\n  ${host.instruments.join(", ")} of the station`);
  }
  const inside = portless(file);
  if (inside.length > 0 && !json) print(`Simulated inside the station, without a port: ${inside.join(", ")}`);
}

async function stateOf(
  host: StationHost,
  runs: string | null,
): Promise<{ isThere: boolean | null; sentence: string }> {
  if (runs !== null) return { isThere: null, sentence: `in use by ${runs}; not tried` };
  const { RealClock } = await import("../../drivers/real-clock.ts");
  const { hostState } = await import("../bring-up/host-state.ts");
  return hostState(host, new RealClock());
}

function jsonOf(port: PortFacts, instruments: readonly string[]): string {
  return JSON.stringify({ ...port, instruments });
}

function portText(port: PortFacts, instruments: readonly string[]): string {
  const what = [port.maker, port.product, port.serial && `serial number ${port.serial}`].filter(
    (known) => known,
  );
  const lines = [
    port.lasting ?? port.path,
    ...(port.lasting === null ? [] : [`now ${port.path}`]),
    ...(what.length > 0 ? [what.join(", ")] : []),
    ...(port.driver === null ? [] : [`driver ${port.driver}`]),
    ...(port.mayOpen
      ? instruments.length > 0 && port.user === null
        ? ["there, and may be opened"]
        : []
      : [
          `this user may not open it${port.group === null ? "" : `; members of the group ${port.group} may`}`,
        ]),
    ...(port.user === null ? [] : [`in use by ${port.user}`]),
    ...(instruments.length > 0 ? [`${instruments.join(", ")} of the station`] : []),
  ];
  return lines.map((line, i) => (i === 0 ? line : `  ${line}`)).join("\n");
}

function print(text: string): void {
  process.stdout.write(`${text}\n`);
}
