import { isMap, parseDocument } from "yaml";

/** Profiles and identities of the simulated instruments that can be asked for registers in place of lines. */
const INSTRUMENTS = {
  leak_gauge: { profile: "modbus-pressure", identity: "PRESSURE-MB" },
  power_meter: { profile: "modbus-power", identity: "POWER-MB" },
  ambient: { profile: "modbus-ambient", identity: "7301" },
  io_block: { profile: "modbus-io", identity: "IO-MB" },
} as const;

const LEAK_GAUGE_SAYS = "PRESSURE-MB;SN0001";

/** The demo station's file with every instrument that can speak Modbus speaking it. Comments are kept. */
export function modbusDemoFile(demoText: string): string {
  const document = parseDocument(demoText);
  for (const [instrument, settings] of Object.entries(INSTRUMENTS)) {
    const path = instrument === "io_block" ? [instrument] : ["gauges", instrument];
    if (!isMap(document.getIn(path))) continue;
    for (const [key, value] of Object.entries(settings)) document.setIn([...path, key], value);
  }
  return document.toString({ lineWidth: 0 });
}

/** What the demo's leak gauge learned, as if learned with the same sensor behind registers. */
export function modbusDemoCalibration(text: string): string {
  const calibration = JSON.parse(text);
  const { profile } = INSTRUMENTS.leak_gauge;
  calibration.leak_gauge = { ...calibration.leak_gauge, profile, identity: LEAK_GAUGE_SAYS };
  return `${JSON.stringify(calibration, null, 2)}\n`;
}
