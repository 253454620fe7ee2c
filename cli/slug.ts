// A folder's name made from a lab's name.

export function slugOf(name: string): string {
  const plain = name.normalize('NFKD').replace(/\p{Mark}/gu, '').toLowerCase().replace(/[^a-z0-9]+/g, '-').replace(/^-+|-+$/g, '').slice(0, 60)
  return plain === '' ? 'lab' : plain
}
