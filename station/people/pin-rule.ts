/**
 * Why a PIN may not be chosen. The longer, the better: four digits are guessed within weeks by somebody who comes back
 * whenever the lock is over, and within the hour by somebody who copies the people file.
 * @returns the end of a sentence that says what to choose; null when it may be chosen
 * @example whyNotPin("1234") // "one that does not count up or down"
 */
export function whyNotPin(pin: string): string | null {
  if (!/^[0-9]{4,12}$/.test(pin)) return "4 to 12 digits";
  if (isRun(pin)) return "one that does not count up or down";
  if (isRepeated(pin)) return "one that does not say the same again and again";
  return null;
}

/** Each digit one more, or one less, than the one before; 0 follows on 9. */
function isRun(pin: string): boolean {
  const steps = [...pin].slice(1).map((digit, i) => (Number(digit) - Number(pin[i]) + 10) % 10);
  return steps.every((step) => step === 1) || steps.every((step) => step === 9);
}

/** 7777, 1212, 481481. */
function isRepeated(pin: string): boolean {
  return /^([0-9]{1,6}?)\1+$/.test(pin);
}
