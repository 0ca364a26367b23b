import { toSI } from "../limits/quantity.ts";
import type { Quality } from "./ports.ts";
import type { ChannelProfile } from "./profile.ts";

/** The worse of two qualities: a value is as good as the worst that is said of it. */
export function worse(a: Quality, b: Quality): Quality {
  return a === "invalid" || b === "invalid" ? "invalid" : a === "good" ? b : a;
}

/**
 * @param raw the number as the instrument gave it
 * @returns SI; NaN for what is invalid, an infinity with the sign it had when over range, so that neither can pass for
 *   a measurement
 * @example siValue(845, "good", { name: "p", unit: hectopascal, scale: 0.1, offset: 0 }) // 8450 Pa
 */
export function siValue(raw: number, quality: Quality, { scale, offset, unit }: ChannelProfile): number {
  if (quality === "good") return toSI(raw * scale + offset, unit);
  if (quality === "over-range") return raw * scale < 0 ? Number.NEGATIVE_INFINITY : Number.POSITIVE_INFINITY;
  return Number.NaN;
}
