import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { Conversation } from "../../drivers/conversation.ts";
import type { FarEnd } from "../../drivers/ports.ts";
import { AsciiIoBlock } from "../../drivers/protocols/ascii-io.ts";
import { AsciiLineGauge } from "../../drivers/protocols/ascii-line.ts";
import { MemoryTransport } from "../../drivers/transports/memory.ts";
import { gaugeProfile, ioBlockProfile, linesOver, memoryRig, type Script } from "./rigs.ts";

const ID = "ID=STREAM-PRESSURE;SN=0001;FW=1.0\r\n";
const line = (number: number) => `N=${String(number).padStart(6, "0")} P=-7998.42 S=0\r\n`;

const texts = (lines: readonly { readonly text: string }[]) => lines.map(({ text }) => text);

describe("a conversation", () => {
  it("keeps the last 20 lines in the order they went over the cable, with who spoke and when", () => {
    fc.assert(
      fc.property(
        fc.array(fc.record({ text: fc.stringMatching(/^[ -[\]-~]{1,40}$/), isSent: fc.boolean() }), {
          maxLength: 70,
        }),
        (said) => {
          const conversation = new Conversation();
          said.forEach(({ text, isSent }, i) => {
            if (isSent) conversation.sent(text, i / 10);
            else conversation.heard(text, i / 10);
          });
          const all = said.map(({ text, isSent }, i) => ({
            t_s: i / 10,
            direction: isSent ? "sent" : "heard",
            text,
          }));
          expect(conversation.lines()).toEqual(all.slice(-20));
        },
      ),
    );
  });

  it("shows bytes that no terminal should obey as their number, and says how long a cut line was", () => {
    const conversation = new Conversation();
    conversation.heard("\x1b[2J\u0000\xb0 ok", 0);
    conversation.heard("A".repeat(300), 0);
    expect(texts(conversation.lines())).toEqual([
      "\\x1b[2J\\x00\\xb0 ok",
      `${"A".repeat(100)}... (300 bytes)`,
    ]);
  });
});

/** A streaming gauge on a simulated cable, connected. */
async function streaming(script: Script = answersId) {
  const profile = gaugeProfile("stream-pressure");
  const rig = memoryRig(profile, script);
  const gauge = new AsciiLineGauge({
    name: "leak_gauge",
    profile,
    transport: rig.transport,
    clock: rig.clock,
  });
  await rig.settle(gauge.connect());
  return { rig, gauge };
}

function answersId(command: string, far: FarEnd): void {
  if (command === "ID?") far.send(ID);
}

describe("the last lines of a gauge", () => {
  it("are still there after its cable was pulled, and end with that", async () => {
    const { rig, gauge } = await streaming();
    for (let i = 1; i <= 30; i++) rig.far().send(line(i));
    await rig.clock.advance_s(0.01);
    rig.far().hangUp();
    const lines = texts(gauge.conversation.lines());
    expect(lines).toHaveLength(20);
    expect(lines.at(-2)).toBe("N=000030 P=-7998.42 S=0");
    expect(lines.at(-1)).toMatch(/^\(cable closed: gauge was unplugged/);
  });

  it("before a fault outlast a reconnect, the stream that follows it, and the close in good order at the end", async () => {
    const { rig, gauge } = await streaming();
    rig.far().send(line(1));
    await rig.clock.advance_s(0.01);
    rig.far().hangUp();
    await rig.settle(gauge.connect());
    for (let i = 100; i < 150; i++) rig.far().send(line(i));
    await rig.clock.advance_s(0.01);
    expect(texts(gauge.conversation.lines())).not.toContain("N=000001 P=-7998.42 S=0");
    expect(texts(gauge.conversation.linesBeforeFault())).toEqual([
      "ID?",
      "ID=STREAM-PRESSURE;SN=0001;FW=1.0",
      "N=000001 P=-7998.42 S=0",
      expect.stringMatching(/^\(cable closed: /),
    ]);
    await gauge.close();
    expect(texts(gauge.conversation.linesBeforeFault())).toContain("N=000001 P=-7998.42 S=0");
    expect(texts(gauge.conversation.lines()).at(-1)).toBe("(cable closed)");
  });

  it("are not driven out by attempts to connect to a gauge that says nothing", async () => {
    let isSilent = false;
    const { rig, gauge } = await streaming((command, far) => {
      if (!isSilent) answersId(command, far);
    });
    rig.far().send(line(7));
    await rig.clock.advance_s(0.01);
    isSilent = true;
    rig.far().hangUp();
    for (let i = 0; i < 8; i++) await rig.settle(gauge.connect().catch(() => undefined));
    expect(texts(gauge.conversation.lines()).slice(-3)).toEqual(["ID?", "(no answer)", "(cable closed)"]);
    expect(texts(gauge.conversation.linesBeforeFault())).toContain("N=000007 P=-7998.42 S=0");
  });

  it("say which line was refused, and why", async () => {
    const { rig, gauge } = await streaming();
    rig.far().send(line(1));
    rig.far().send("\x80\x81".repeat(300));
    await rig.clock.advance_s(0.01);
    expect(texts(gauge.conversation.lines()).slice(-3)).toEqual([
      expect.stringMatching(/^\\x80\\x81.*\(\d+ bytes\)$/),
      "(line too long, refused)",
      "(cable closed)",
    ]);
  });

  it("say when a line broke off in the middle", async () => {
    const { rig, gauge } = await streaming();
    rig.far().send("N=0000");
    await rig.clock.advance_s(5);
    expect(texts(gauge.conversation.lines())).toContain("N=0000");
    expect(texts(gauge.conversation.lines())).toContain("(half a line, refused)");
  });

  it("say that nobody was there to connect to", async () => {
    const profile = gaugeProfile("stream-pressure");
    const { clock } = memoryRig(profile, answersId);
    const bytes = new MemoryTransport({ instrument: "leak_gauge", clock, attach: (far) => far.hangUp() });
    const transport = linesOver(profile, clock, bytes);
    const gauge = new AsciiLineGauge({ name: "leak_gauge", profile, transport, clock });
    await expect(gauge.connect()).rejects.toMatchObject({ code: "PORT_MISSING" });
    expect(texts(gauge.conversation.lines())).toEqual([
      expect.stringMatching(/^\(not connected: leak_gauge is not there/),
    ]);
  });
});

describe("the last lines of an I/O block", () => {
  it("are its commands and its answers, in order", async () => {
    const profile = ioBlockProfile();
    const rig = memoryRig(profile, (command, far) => {
      if (command === "ID?") far.send("ID=ASCII-IO;SN=0001;FW=1.0\r\n");
      else if (command === "SET vent=1") far.send("ERR NAME\r\n");
    });
    const block = new AsciiIoBlock({ name: "io_block", profile, transport: rig.transport, clock: rig.clock });
    await rig.settle(block.connect().catch(() => undefined));
    expect(block.conversation.lines().map(({ direction, text }) => `${direction} ${text}`)).toEqual([
      "sent ID?",
      "heard ID=ASCII-IO;SN=0001;FW=1.0",
      "sent GET",
      "heard (no answer)",
      "heard (cable closed)",
    ]);
  });
});
