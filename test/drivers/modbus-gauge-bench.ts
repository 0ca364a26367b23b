import type { DriverError, Reading } from "../../drivers/ports.ts";
import { ModbusGauge } from "../../drivers/protocols/modbus-gauge.ts";
import { ModbusPressure } from "../../sim/instruments/modbus-gauges.ts";
import { type FrameRig, frameRig, modbusGaugeProfile, simulatedRig } from "./modbus-rigs.ts";

export const PRESSURE = modbusGaugeProfile("modbus-pressure");
/** What no identity and no counter can disturb. */
export const BARE = modbusGaugeProfile(
  "bare",
  `drumtight: profile/1
kind: modbus_gauge
title: Two registers
port: { baud: 19200, data_bits: 8, parity: even, stop_bits: 1, flow_control: none }
modbus: { framing: rtu, unit_id: 1 }
reply_within: 300 ms
poll: { every: 50 ms }
channels:
  - { name: p, quantity: pressure, unit: hPa, table: input_register, address: 0, type: int16, scale: 0.1, offset: 2,
      special_values: { over_range: [32767, -32767], invalid: [-32768] } }
status: { table: input_register, address: 1, codes: { good: [0], over_range: [1], invalid: [2] } }
`,
);

export function pressureBench(
  pressure_Pa: (t_s: number) => number = () => -8000,
  framing: "rtu" | "tcp" = "rtu",
) {
  const profile = { ...PRESSURE, modbus: { ...PRESSURE.modbus, framing } };
  const rig = simulatedRig(
    profile,
    (clock) =>
      new ModbusPressure(
        { name: "gauge", clock, seed: 1, framing, unitId: 1, latency_s: 0.002 },
        pressure_Pa,
      ),
  );
  return {
    ...rig,
    ...watched(new ModbusGauge({ name: "gauge", profile, ...rig })),
    settle: settleOn(rig.clock),
  };
}

export function scriptedBench(
  answer: (question: string, rig: FrameRig) => string | undefined,
  profile = BARE,
) {
  const rig = frameRig(profile, answer);
  const gauge = new ModbusGauge({ name: "gauge", profile, transport: rig.transport, clock: rig.clock });
  return { ...rig, ...watched(gauge) };
}

function settleOn(clock: FrameRig["clock"]) {
  return <T>(promise: Promise<T>) => clock.runUntil(promise);
}

function watched(gauge: ModbusGauge) {
  const seen: Reading[] = [];
  const faults: DriverError[] = [];
  const listener = {
    readings: (readings: readonly Reading[]) => void seen.push(...readings),
    fault: (error: DriverError) => void faults.push(error),
  };
  return { gauge, seen, faults, listener };
}
