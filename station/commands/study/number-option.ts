import { InvalidArgumentError } from "@commander-js/extra-typings";

const NUMBER = /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i;

/** A number in the unit of a study's values, which has no name here. @throws InvalidArgumentError where it is none */
export function inUnitOfValues(text: string): number {
  const value = NUMBER.test(text.trim()) ? Number(text) : Number.NaN;
  if (Number.isFinite(value)) return value;
  throw new InvalidArgumentError("Give a number like 12.5, in the unit of the values and without it.");
}

/** @throws InvalidArgumentError where it is no number from 0 to 1 */
export function partOfOne(text: string): number {
  const value = NUMBER.test(text.trim()) ? Number(text) : Number.NaN;
  if (value >= 0 && value <= 1) return value;
  throw new InvalidArgumentError("Give a number from 0 to 1, like 0.25.");
}
