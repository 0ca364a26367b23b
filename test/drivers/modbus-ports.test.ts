import { afterEach, describe, expect, it } from "vitest";
import type { ModbusProfile } from "../../drivers/modbus-profile.ts";
import type { ByteTransport, DriverError } from "../../drivers/ports.ts";
import { ModbusGauge } from "../../drivers/protocols/modbus-gauge.ts";
import { ModbusIoBlock } from "../../drivers/protocols/modbus-io-block.ts";
import { RealClock } from "../../drivers/real-clock.ts";
import { SerialTransport } from "../../drivers/transports/serial.ts";
import { TcpTransport } from "../../drivers/transports/tcp.ts";
import { loadLimitFolder } from "../../limits/limit-file.ts";
import { type Serving, serve } from "../../sim/serve.ts";
import { scratchFolder } from "../records/scratch-folder.ts";
import { framesOver, modbusGaugeProfile, modbusIoProfile } from "./modbus-rigs.ts";

const clock = new RealClock();
const models = loadLimitFolder("limits/models");

/** A machine that runs many tests at once answers when it can. */
function patient<T extends ModbusProfile>(profile: T): T {
  return { ...profile, replyWithin_s: 10, modbus: { ...profile.modbus, idleRest_s: 10 } };
}

const afterwards: (() => unknown)[] = [];

afterEach(async () => {
  for (const undo of afterwards.splice(0).reverse()) await undo();
});

async function serving(ptyFolder?: string): Promise<Serving> {
  const started = await serve({
    ...{ clock, seed: 7, models, count: 1, tcpBase: 0, byHand: true, modbus: true },
    did: () => {},
    failed: () => {},
    ...(ptyFolder === undefined ? {} : { ptyFolder }),
  });
  afterwards.push(() => started.close());
  return started;
}

function tcpTo(station: Serving, instrument: string): ByteTransport {
  const [host = "", port] = (station.addresses.get(instrument) ?? "").split(":");
  return new TcpTransport({ instrument, host, port: Number(port), clock });
}

describe("Modbus over real ports", () => {
  it("over a TCP socket: sets outputs, reads them back, sees the guard open, and notices the pulled cable", async () => {
    const station = await serving();
    const profile = patient(modbusIoProfile());
    const io = new ModbusIoBlock({
      ...{ name: "io_block", profile, clock },
      transport: framesOver(profile, clock, tcpTo(station, "io_block")),
    });
    afterwards.push(() => io.close());
    await io.connect();
    await io.set({ source: true, vent: false });
    expect(station.plant.outputs).toMatchObject({ source: true, vent: false, motor: false });
    const fault = new Promise<DriverError>((resolve) => {
      io.watch({
        levels: ({ guard }) => {
          if (guard) station.plant.guard(false);
          else station.plant.instruments.get("io_block")?.misbehave("unplugged");
        },
        fault: resolve,
      });
    });
    expect(await fault).toMatchObject({ code: "PORT_LOST" });
  });

  it("over a serial port: RTU frames, whose gauge is asked, watched and lost", async () => {
    const folder = scratchFolder();
    const station = await serving(folder);
    const profile = patient(modbusGaugeProfile("modbus-pressure"));
    const path = station.addresses.get("leak_gauge") ?? "";
    const bytes = new SerialTransport({ instrument: "leak_gauge", path, settings: profile.port, clock });
    const gauge = new ModbusGauge({
      ...{ name: "leak_gauge", profile, clock },
      transport: framesOver(profile, clock, bytes),
    });
    afterwards.push(() => gauge.close());
    await gauge.connect();
    expect(gauge.identity).toBe("PRESSURE-MB;SN0001");
    const [reading] = await gauge.read();
    expect(reading?.quality).toBe("good");
    expect(Math.abs(reading?.value ?? Number.NaN)).toBeLessThan(10);
    let count = 0;
    const fault = new Promise<DriverError>((resolve) => {
      gauge.watch({
        readings: () => {
          if (++count === 5) station.plant.instruments.get("leak_gauge")?.misbehave("unplugged");
        },
        fault: resolve,
      });
    });
    expect((await fault).code).toMatch(/^(PORT_LOST|REPLY_TIMEOUT)$/);
    expect(count).toBeGreaterThanOrEqual(5);
  });
});
