import { Command } from "@commander-js/extra-typings";
import type { PortFacts } from "../bring-up/serial-ports.ts";

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
Nothing is opened and nothing is sent. Device servers on the network are not searched for.

Examples:
  drumtight gauge list
  drumtight gauge list --station line-2.yaml`,
    )
    .action(async ({ station, json }) => {
      const { listSerialPorts } = await import("../bring-up/serial-ports.ts");
      const { stationPorts } = await import("../bring-up/station-ports.ts");
      const { readStationFileAlone } = await import("../load-station.ts");
      const { ports, notes } = listSerialPorts();
      const wanted = station === undefined ? [] : stationPorts(readStationFileAlone(station), ports);
      for (const port of ports) {
        const instruments = wanted
          .filter(({ path }) => path === port.path)
          .map(({ instrument }) => instrument);
        print(json ? JSON.stringify({ ...port, instruments }) : portText(port, instruments));
      }
      for (const { instrument, named, path } of wanted) {
        if (path !== null) continue;
        if (json) print(JSON.stringify({ instrument, port: named, found: false }));
        else print(`${instrument}: ${named} is not there; check that its adapter is plugged in.`);
      }
      if (ports.length === 0 && !json) print("No serial ports.");
      for (const note of notes) process.stderr.write(`${note}\n`);
    });
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
      ? []
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
