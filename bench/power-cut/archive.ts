// Writes the archive that a Linux kernel unpacks as its first file system: the "newc" form of cpio, as the kernel's own early userspace documentation gives it.

export type Entry =
  | { readonly path: string; readonly kind: 'folder' }
  | { readonly path: string; readonly kind: 'file'; readonly bytes: Uint8Array; readonly mode: number }
  | { readonly path: string; readonly kind: 'link'; readonly to: string }

/** Paths without a slash in front; a folder comes before what lies in it. */
export function cpioArchive(entries: readonly Entry[]): Buffer {
  const pieces = entries.flatMap((entry, index) => pieceOf(entry, index + 1))
  return Buffer.concat([...pieces, ...pieceOf({ path: 'TRAILER!!!', kind: 'folder' }, 0, 0)])
}

const FOLDER = 0o040755
const FILE = 0o100000
const LINK = 0o120777

function pieceOf(entry: Entry, inode: number, forced?: number): readonly Buffer[] {
  const body = entry.kind === 'file' ? Buffer.from(entry.bytes) : entry.kind === 'link' ? Buffer.from(entry.to) : Buffer.alloc(0)
  const mode = forced ?? (entry.kind === 'folder' ? FOLDER : entry.kind === 'link' ? LINK : FILE | entry.mode)
  const name = Buffer.from(`${entry.path}\0`)
  // inode, mode, uid, gid, links, mtime, size, device twice major and minor, length of the name, checksum
  const fields = [inode, mode, 0, 0, 1, 0, body.length, 0, 0, 0, 0, name.length, 0]
  const head = Buffer.from(`070701${fields.map((field) => field.toString(16).padStart(8, '0')).join('')}`)
  return [padded(Buffer.concat([head, name])), padded(body)]
}

function padded(bytes: Buffer): Buffer {
  return Buffer.concat([bytes, Buffer.alloc((4 - (bytes.length % 4)) % 4)])
}
