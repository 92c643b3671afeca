/**
 * The last value that was there. What is shown of a thing may still be asked for while its view is being taken
 * away, when the thing itself is gone already.
 */
export function sticky<T>(get: () => T | null): { readonly value: T } {
  let last: T | null = null;
  return {
    get value(): T {
      last = get() ?? last;
      return last as T;
    },
  };
}
