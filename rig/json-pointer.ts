// JSON pointers (RFC 6901).

/** The value at a pointer, undefined where there is nothing. */
export function readPointer(document: unknown, pointer: string): unknown {
  if (pointer === '') return document
  let at: unknown = document
  for (const token of pointer.slice(1).split('/')) {
    const key = token.replaceAll('~1', '/').replaceAll('~0', '~')
    if (Array.isArray(at)) at = /^(?:0|[1-9]\d*)$/.test(key) ? at[Number(key)] : undefined
    else if (typeof at === 'object' && at !== null && Object.hasOwn(at, key)) at = Reflect.get(at, key)
    else return undefined
  }
  return at
}

/** Why a pointer is not one, null when it is. */
export function pointerFault(pointer: string): string | null {
  if (pointer !== '' && !pointer.startsWith('/')) return 'a JSON pointer begins with "/"'
  return /~(?![01])/.test(pointer) ? 'in a JSON pointer "~" stands before 0 or 1 only' : null
}
