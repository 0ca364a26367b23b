import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { checkLine, type LineChecksum, withChecksum } from "../../drivers/checksum.ts";
import type { GaugeProfile } from "../../drivers/profile.ts";
import { readProfile } from "../../drivers/profile-file.ts";
import { ReplyReader } from "../../drivers/protocols/reply-reader.ts";
import { type DraftFacts, draftProfile } from "../../station/bring-up/draft-profile.ts";
import { findChecksum } from "../../station/bring-up/find-checksum.ts";
import { findForm } from "../../station/bring-up/line-form.ts";

const SETTINGS = { baud: 9600, dataBits: 8, parity: "none", stopBits: 1, flowControl: "none" } as const;

/** The draft made of these lines, read back as the station reads profiles. */
function drafted(
  texts: readonly string[],
  more: Partial<DraftFacts> = {},
): { text: string; profile: GaugeProfile } {
  const checksum = findChecksum(texts);
  const bare = texts.map((text) => {
    const checked = checksum && checkLine(text, checksum);
    return checked?.ok ? checked.text : text;
  });
  const form = findForm(bare.map((text, i) => ({ text, at_s: i * 0.02 })));
  if (!form) throw new Error("no form was found");
  const text = draftProfile({
    title: "Unknown gauge",
    port: "/dev/ttyUSB0",
    settings: SETTINGS,
    end: "CRLF",
    sendEnd: null,
    form,
    checksum,
    looksChecked: false,
    poll: null,
    startUp: null,
    identity: null,
    complaints: [],
    interval_s: { typical: 0.02, longest: 0.03 },
    channels: [],
    ...more,
  });
  const profile = readProfile("draft", "draft.yaml", text);
  if (profile.kind !== "gauge") throw new Error("not a gauge's profile");
  return { text, profile };
}

/** Numbers as instruments write them. */
const written = fc.oneof(
  fc
    .record({ decimals: fc.integer({ min: 0, max: 3 }), plus: fc.boolean(), width: fc.constantFrom(0, 9) })
    .map(({ decimals, plus, width }) => (value: number) => {
      const digits = Math.abs(value).toFixed(decimals);
      return `${value < 0 ? "-" : plus ? "+" : ""}${digits}`.padStart(width);
    }),
  fc.constant((value: number) => `${value < 0 ? "-" : "+"}${Math.abs(value).toFixed(2).padStart(8, "0")}`),
  fc.constant((value: number) => {
    const [mantissa, exponent = ""] = Math.abs(value).toExponential(5).split("e");
    return `${value < 0 ? "-" : "+"}${mantissa}E${exponent[0]}${exponent.slice(1).padStart(2, "0")}`;
  }),
);

const fieldForm = fc.record({
  label: fc.constantFrom("", "P=", "p1: ", "PRESSURE ", "T:"),
  unit: fc.constantFrom("", " hPa", "kPa", " Pa", " mmH2O", " %"),
  write: written,
});

const checksumRule = fc.option(
  fc.record<LineChecksum>({
    kind: fc.constantFrom("xor", "sum8", "crc16_modbus", "crc16_ccitt", "crc16_xmodem"),
    beginsAfter: fc.constantFrom("", "$"),
    separator: fc.constantFrom("", "*", ","),
    digits: fc.constantFrom("upper", "lower"),
    lowByteFirst: fc.constant(false),
    sent: fc.constant(false),
  }),
);

describe("a profile drafted from lines", () => {
  it("reads every line that it was drafted from", () => {
    fc.assert(
      fc.property(
        fc.array(fieldForm, { minLength: 1, maxLength: 3 }),
        fc.constantFrom(",", ";", " ", "\t"),
        fc.boolean(),
        fc.array(fc.constantFrom("OK", "OV", "UR"), { minLength: 12, maxLength: 12 }),
        fc.array(fc.double({ min: -9e4, max: 9e4, noNaN: true }), { minLength: 36, maxLength: 36 }),
        checksumRule,
        (fields, separator, counts, states, values, rule) => {
          const texts = states.map((state, i) => {
            const parts = fields.map(
              ({ label, unit, write }, at) => `${label}${write(values[i * 3 + at] ?? 0)}${unit}`,
            );
            const all = [...(counts ? [`N${String(i + 7).padStart(4, "0")}`] : []), ...parts, state];
            const line = (rule?.beginsAfter ?? "") + all.join(separator);
            return rule ? withChecksum(line, rule) : line;
          });
          const { profile } = drafted(texts);
          const { checksum } = profile;
          if (rule) expect(checksum).toMatchObject({ kind: rule.kind });
          for (const text of texts) {
            const checked = checksum ? checkLine(text, checksum) : { ok: true as const, text };
            expect(checked.ok && profile.reply.test(checked.text), `${text} by ${profile.reply.source}`).toBe(
              true,
            );
          }
          expect(profile.channels).toHaveLength(fields.length);
        },
      ),
      { numRuns: 60 },
    );
  });
});
void ReplyReader;
