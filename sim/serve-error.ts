/** The instruments cannot be served as asked; the message says why and what to do. */
export class ServeError extends Error {
  constructor(message: string, options?: { cause?: unknown }) {
    super(message, options);
    this.name = "ServeError";
  }
}
