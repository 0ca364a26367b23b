import type { FuzzTarget } from "./target.ts";

/** Every reader of what comes from outside. */
export async function allTargets(): Promise<readonly FuzzTarget[]> {
  const { WIRE_TARGETS } = await import("./wire-targets.ts");
  const { SCAN_TARGETS } = await import("./scan-targets.ts");
  const { RECORD_TARGETS } = await import("./record-targets.ts");
  const { MODBUS_TARGETS } = await import("./modbus-targets.ts");
  const { IO_TARGETS } = await import("./io-targets.ts");
  const { tapeTargets } = await import("./tape-targets.ts");
  const { COMMAND_TARGETS } = await import("./command-targets.ts");
  const { fileTargets } = await import("./file-targets.ts");
  return [
    ...WIRE_TARGETS,
    ...MODBUS_TARGETS,
    ...IO_TARGETS,
    ...SCAN_TARGETS,
    ...RECORD_TARGETS,
    ...(await tapeTargets()),
    ...fileTargets(),
    ...COMMAND_TARGETS,
  ];
}
