import { PassThrough } from "node:stream";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { drawFirstFrame } from "../../station/screen/first-frame.ts";
import type { Key } from "../../station/screen/keys.ts";
import { renderScreen } from "../../station/screen/render-screen.tsx";
import { atWork } from "./example-state.ts";

/** A terminal's two streams, in the program's place of its own. */
class Keyboard extends PassThrough {
  readonly isTTY = true;
  setRawMode = () => this;
  ref = () => this;
  unref = () => this;
}
class Paper extends PassThrough {
  readonly isTTY = true;
  readonly columns = 80;
  readonly rows = 24;
}

const own = {
  stdin: Object.getOwnPropertyDescriptor(process, "stdin"),
  stdout: Object.getOwnPropertyDescriptor(process, "stdout"),
};
let stdin: Keyboard;

beforeEach(() => {
  stdin = new Keyboard();
  const stdout = new Paper();
  stdout.resume();
  Object.defineProperty(process, "stdin", { value: stdin, configurable: true });
  Object.defineProperty(process, "stdout", { value: stdout, configurable: true });
});

afterEach(() => {
  for (const [name, descriptor] of Object.entries(own)) {
    if (descriptor) Object.defineProperty(process, name, descriptor);
  }
});

/** A desk that only keeps what it hears. */
function deaf() {
  const heard: Key[] = [];
  const desk = {
    state: atWork("ready"),
    isEscUrgent: false,
    watch: () => () => {},
    key: (key: Key) => void heard.push(key),
  };
  return {
    desk,
    text: () => heard.map((key) => (key.kind === "text" ? key.text : `<${key.kind}>`)).join(""),
  };
}

const TURNS: Readonly<Record<string, (next: () => void) => unknown>> = {
  "as often as anything can run": (next) => queueMicrotask(next),
  "between two things that run": (next) => process.nextTick(next),
  "with each turn of the loop": (next) => setImmediate(next),
};
const turn = () => new Promise((resolve) => setImmediate(resolve));

describe("what is typed while the screen takes over from the first frame", () => {
  it("counts though nothing follows it: an Enter before, and one in the same turn", async () => {
    const first = drawFirstFrame();
    const { desk, text } = deaf();
    stdin.write("\r");
    await turn();
    const stop = renderScreen(desk, first);
    stdin.write("\r");
    for (let i = 0; i < 100 && text() !== "<enter><enter>"; i++) await turn();
    stop();
    expect(text()).toBe("<enter><enter>");
  });

  it.each(Object.keys(TURNS))("is heard in order, once, whenever it comes: %s", async (often) => {
    const first = drawFirstFrame();
    const { desk, text } = deaf();
    let sent = "";
    let isTyping = true;
    const type = () => {
      if (!isTyping) return;
      const character = String.fromCodePoint(0x100 + (sent.length % 0x100));
      sent += character;
      stdin.write(character);
      // A burst without a pause would keep everything else from running.
      if (sent.length % 50 === 0) setImmediate(type);
      else TURNS[often]?.(type);
    };
    type();
    for (let i = 0; i < 3; i++) await turn();
    const stop = renderScreen(desk, first);
    for (let i = 0; i < 60; i++) await turn();
    isTyping = false;
    for (let i = 0; i < 100 && text().length < sent.length; i++) await turn();
    stop();
    expect(text()).toBe(sent);
  });
});
