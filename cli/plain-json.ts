// A value as JSON that is safe to print: what a terminal would obey or hide stands there as an escape, so it reads back as it was.

export function plainJson(value: unknown): string {
  return JSON.stringify(value, undefined, 2).replace(/[\u007f-\u009f\u061c\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufeff]/g, (found) => `\\u${found.charCodeAt(0).toString(16).padStart(4, '0')}`)
}
