import { CHECKSUM_KINDS, type LineChecksum } from "../../drivers/checksum.ts";
import { type RandomStream, randomStream } from "../random.ts";
import type { UartSettings } from "../uart.ts";

/** How a stranger comes to speak. */
export const STRANGER_KINDS = ["stream", "polled", "started"] as const;
export type StrangerKind = (typeof STRANGER_KINDS)[number];

/** What one instrument of unknown make says and wants to hear: all that its manual would tell. */
export interface StrangerTraits {
  readonly kind: StrangerKind;
  readonly port: UartSettings;
  /** Ends its lines, and those it is sent. */
  readonly end: "\r" | "\n" | "\r\n";
  /** Lines a second, of a stream. */
  readonly rate_Hz: number;
  /** A question and its answer, where it can be asked who it is. */
  readonly identity: { readonly ask: string; readonly answer: string } | null;
  /** What is to be asked for a reading. */
  readonly ask: string;
  /** Sets a stream going, where it does not run by itself. */
  readonly start: string;
  /** What it says to a command it does not know; null for nothing. */
  readonly complaint: string | null;
  readonly unit: StrangerUnit;
  readonly decimals: number;
  readonly numbers: "plain" | "signed" | "filled" | "padded" | "exponent";
  readonly label: string;
  readonly separator: string;
  readonly count: { readonly label: string; readonly digits: number; readonly modulus: number } | null;
  /** Texts of its state: good, over range. */
  readonly state: { readonly label: string; readonly good: string; readonly over: string } | null;
  /** Whether a temperature follows the pressure. */
  readonly hasTemperature: boolean;
  readonly showsUnit: boolean;
  readonly checksum: LineChecksum | null;
  /** Noise of a reading, one standard deviation. */
  readonly noise_Pa: number;
  readonly lag_s: number;
}

export interface StrangerUnit {
  readonly text: string;
  readonly perPascal: number;
}

// mmH2O at 9.80665 Pa, the conventional one.
const UNITS: readonly (StrangerUnit & { readonly decimals: number })[] = [
  { text: "Pa", perPascal: 1, decimals: 1 },
  { text: "hPa", perPascal: 1 / 100, decimals: 3 },
  { text: "mbar", perPascal: 1 / 100, decimals: 4 },
  { text: "kPa", perPascal: 1 / 1000, decimals: 4 },
  { text: "mmH2O", perPascal: 1 / 9.80665, decimals: 2 },
];

const SETTINGS: readonly UartSettings[] = [
  { baud: 9600, dataBits: 8, parity: "none" },
  { baud: 19_200, dataBits: 8, parity: "none" },
  { baud: 38_400, dataBits: 8, parity: "none" },
  { baud: 57_600, dataBits: 8, parity: "none" },
  { baud: 115_200, dataBits: 8, parity: "none" },
  { baud: 9600, dataBits: 7, parity: "even" },
  { baud: 19_200, dataBits: 7, parity: "odd" },
];

/** Draws an instrument that nobody has a profile of, the same for the same seed. */
export function strangerTraits(seed: number, kind?: StrangerKind): StrangerTraits {
  const random = randomStream(seed, "stranger");
  const drawn = random.pick(STRANGER_KINDS);
  const unit = random.pick(UNITS);
  const serial = String(Math.floor(random.between(1000, 99_999)));
  return {
    kind: kind ?? drawn,
    port: random.pick(SETTINGS),
    end: random.pick(["\r", "\n", "\r\n"]),
    rate_Hz: random.pick([10, 20, 25, 50]),
    identity: random.chance(0.6)
      ? {
          ask: random.pick(["*IDN?", "ID?"]),
          answer: random.pick([`HALL DEVICES,DP-8,SN${serial},FW2.1`, `DP8 PRESSURE ${serial}`]),
        }
      : null,
    ask: random.pick(["P", "READ?", "D", "?"]),
    start: random.pick(["RUN", "CONT 1", "S"]),
    complaint: random.pick([null, "?", "ERR 2", "NAK"]),
    unit,
    decimals: unit.decimals,
    numbers: random.pick(["plain", "signed", "filled", "padded", "exponent"]),
    label: random.pick(["", "P=", "P:", "PRESS "]),
    separator: random.pick([",", ";", " ", "\t"]),
    count: random.chance(0.5) ? counter(random) : null,
    state: random.chance(0.6)
      ? random.pick([
          { label: "S=", good: "0", over: "1" },
          { label: "", good: "OK", over: "OV" },
          { label: "ST:", good: "00", over: "04" },
        ])
      : null,
    hasTemperature: random.chance(0.4),
    showsUnit: random.chance(0.5),
    checksum: random.chance(0.5) ? checksum(random) : null,
    noise_Pa: random.pick([0.5, 0.8, 6]),
    lag_s: random.pick([0.02, 0.05, 0.3]),
  };
}

function counter(random: RandomStream): StrangerTraits["count"] {
  return random.pick([
    { label: "N=", digits: 6, modulus: 1_000_000 },
    { label: "#", digits: 4, modulus: 10_000 },
    { label: "", digits: 0, modulus: 256 },
  ]);
}

function checksum(random: RandomStream): LineChecksum {
  return {
    kind: random.pick(CHECKSUM_KINDS),
    beginsAfter: random.pick(["", "$"]),
    separator: random.pick(["*", ",", ""]),
    digits: random.pick(["upper", "lower"]),
    lowByteFirst: false,
    sent: false,
  };
}
