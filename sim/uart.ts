/** How one end of a serial line is set. */
export interface UartSettings {
  readonly baud: number;
  readonly dataBits: 7 | 8;
  readonly parity: "none" | "even" | "odd";
}

/**
 * What a receiver makes of bytes that were sent with other settings: the line's level bit by bit, read again from each
 * falling edge in the receiver's own time. A byte whose stop bit is missing is lost, and so is one whose parity is wrong.
 * Sent back to back from an idle line; one stop bit.
 * @example misread([0x55], { baud: 9600, ... }, { baud: 9600, ... }) // [0x55]
 * @see asynchronous start-stop transmission: start bit 0, data from the lowest bit, parity, stop bit 1, idle 1
 */
export function misread(bytes: Iterable<number>, sent: UartSettings, heard: UartSettings): number[] {
  const levels = [...bytes].flatMap((byte) => characterBits(byte, sent));
  const read: number[] = [];
  // Times in the sender's bits; half a receiver's bit into a start bit is its middle.
  const bit = sent.baud / heard.baud;
  const level = (at: number) => levels[Math.floor(at)] ?? 1;
  for (let at = 0; at < levels.length; ) {
    if (level(at) === 1) {
      at = Math.floor(at) + 1;
      continue;
    }
    if (level(at + bit / 2) === 1) {
      at += bit / 2;
      continue;
    }
    let byte = 0;
    let ones = 0;
    for (let i = 0; i < heard.dataBits; i++) {
      const value = level(at + (1.5 + i) * bit);
      byte |= value << i;
      ones += value;
    }
    let bits = 1 + heard.dataBits;
    let isRight = true;
    if (heard.parity !== "none") {
      ones += level(at + (bits + 0.5) * bit);
      isRight = ones % 2 === (heard.parity === "even" ? 0 : 1);
      bits++;
    }
    const stop = at + (bits + 0.5) * bit;
    if (level(stop) === 1 && isRight) read.push(byte);
    at = stop;
  }
  return read;
}

function characterBits(byte: number, { dataBits, parity }: UartSettings): number[] {
  const data = Array.from({ length: dataBits }, (_, i) => (byte >> i) & 1);
  const ones = data.reduce((sum, value) => sum + value, 0);
  const check = parity === "none" ? [] : [parity === "even" ? ones % 2 : 1 - (ones % 2)];
  return [0, ...data, ...check, 1];
}
