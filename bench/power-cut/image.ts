// Builds what the virtual machine starts from: a Debian kernel, a small shell, Node and the rig in an archive in memory, and an empty disk for its journals.
import { execFileSync } from 'node:child_process'
import { lstatSync, mkdirSync, readdirSync, readFileSync, readlinkSync, realpathSync, rmSync, writeFileSync } from 'node:fs'
import { basename, dirname, join } from 'node:path'
import { cpioArchive, type Entry } from './archive.ts'

export interface Image {
  readonly kernel: string
  readonly archive: string
  readonly disk: string
}

const TREE = join(import.meta.dirname, '..', '..')
const DISK_BYTES = 256 * 1024 * 1024

/** Takes kernel and shell from Debian's packages; nothing else is fetched. Throws where the package tools or the network are missing. */
export function buildImage(folder: string, plan: object): Image {
  const packages = join(folder, 'packages')
  mkdirSync(packages, { recursive: true })
  const kernelPackage = /linux-image-\d[\w.+-]*/.exec(run('apt-cache', ['depends', 'linux-image-cloud-amd64'], packages))?.[0]
  if (kernelPackage === undefined) throw new Error('apt knows no kernel package: run "apt-get update" first')
  run('apt-get', ['download', kernelPackage, 'busybox-static'], packages)
  for (const name of readdirSync(packages).filter((file) => file.endsWith('.deb'))) run('dpkg-deb', ['-x', name, name.startsWith('linux') ? 'kernel' : 'shell'], packages)
  const boot = join(packages, 'kernel', 'boot')
  const kernel = join(boot, readdirSync(boot).find((name) => name.startsWith('vmlinuz')) ?? '')

  const archive = join(folder, 'first.cpio')
  writeFileSync(archive, cpioArchive([...baseEntries(packages), ...moduleEntries(join(packages, 'kernel', 'lib', 'modules')), ...nodeEntries(), ...treeEntries(), file('plan.json', Buffer.from(JSON.stringify(plan))), file('init', Buffer.from(INIT), 0o755)]))
  const disk = join(folder, 'data.img')
  rmSync(disk, { force: true })
  run('truncate', ['-s', String(DISK_BYTES), disk], folder)
  run('mkfs.ext4', ['-q', '-F', disk], folder)
  return { kernel, archive, disk }
}

/** What the machine does at each boot: it knows nothing of the one before but what is on the disk. */
const INIT = `#!/bin/sh
mount -t proc proc /proc; mount -t sysfs sysfs /sys; mount -t devtmpfs devtmpfs /dev; mount -t tmpfs tmpfs /tmp
for name in $(cat /modules/order); do insmod /modules/$name; done
mount -t ext4 /dev/vda /data || exec poweroff -f
export HOME=/data XDG_CONFIG_HOME=/data/config PATH=/bin
cd /data
if [ ! -e approved ]; then
  cp /plan.json plan.json
  code=$(node /tree/rig/main.ts approve plan.json | sed -n 's/.*--code \\([0-9a-f-]*\\).*/\\1/p')
  node /tree/rig/main.ts approve plan.json --code "$code" > /dev/null && : > approved
  sync
fi
echo "UP $(cat /proc/sys/kernel/random/boot_id)"
node /tree/rig/main.ts run plan.json --folder rig --as-root --each-step --unattended
echo "ENDED $?"
cd /; umount /data; sync
poweroff -f
`

function baseEntries(packages: string): readonly Entry[] {
  const applets = ['sh', 'mount', 'umount', 'insmod', 'cat', 'cp', 'sed', 'sync', 'poweroff', 'sleep', 'echo', 'test']
  return [
    ...['bin', 'proc', 'sys', 'dev', 'tmp', 'data', 'modules', 'tree'].map((path): Entry => ({ path, kind: 'folder' })),
    file('bin/busybox', readFileSync(join(packages, 'shell', 'bin', 'busybox')), 0o755),
    ...applets.map((name): Entry => ({ path: `bin/${name}`, kind: 'link', to: 'busybox' })),
  ]
}

/** The disk's drivers, each after those that it needs. */
function moduleEntries(modules: string): readonly Entry[] {
  const all = new Map(filesBelow(modules).filter((path) => path.endsWith('.ko')).map((path) => [basename(path, '.ko').replaceAll('-', '_'), path]))
  const order: string[] = []
  const add = (name: string): void => {
    const path = all.get(name)
    // What is not a module is built into the kernel.
    if (path === undefined || order.includes(name)) return
    for (const needed of /depends=([\w,-]*)/.exec(readFileSync(path, 'latin1'))?.[1].split(',').filter((each) => each !== '') ?? []) add(needed.replaceAll('-', '_'))
    order.push(name)
  }
  for (const name of ['virtio_pci', 'virtio_blk', 'ext4']) add(name)
  return [...order.map((name) => file(`modules/${name}.ko`, readFileSync(all.get(name) ?? ''))), file('modules/order', Buffer.from(order.map((name) => `${name}.ko`).join('\n')))]
}

/** Node with the libraries that it is linked to, where its loader looks for them. */
function nodeEntries(): readonly Entry[] {
  const libraries = [...execFileSync('ldd', [process.execPath], { encoding: 'utf8' }).matchAll(/(\/\S+) \(0x/g)].map(([, path]) => path)
  return [...withFolders(libraries.map((path) => file(path.slice(1), readFileSync(realpathSync(path)), 0o755))), file('bin/node', readFileSync(process.execPath), 0o755)]
}

/** The rig as it is carried on a stick: its packages, and the libraries with links kept as links. */
function treeEntries(): readonly Entry[] {
  const packages = ['rig', 'link', 'model'].flatMap((name) => copied(join(TREE, name), `tree/${name}`))
  const libraries = ['zod', '@noble/hashes', 'canonicalize'].flatMap((name) => copied(join(TREE, 'node_modules', name), `tree/node_modules/${name}`))
  const links = ['rig', 'link', 'model'].map((name): Entry => ({ path: `tree/node_modules/@guardband/${name}`, kind: 'link', to: `../../${name}` }))
  return withFolders([file('tree/package.json', Buffer.from('{"type":"module"}')), ...packages, ...libraries, ...links], ['bin', 'tree'])
}

function copied(from: string, to: string): readonly Entry[] {
  return filesBelow(from).filter((path) => !path.includes('/test/') && !path.includes('/node_modules/node_modules/')).map((path): Entry => {
    const target = `${to}/${path.slice(from.length + 1)}`
    return lstatSync(path).isSymbolicLink() ? { path: target, kind: 'link', to: readlinkSync(path) } : file(target, readFileSync(path))
  })
}

/** With every folder that they lie in before them. */
function withFolders(entries: readonly Entry[], there: readonly string[] = ['bin']): readonly Entry[] {
  const folders = new Set<string>()
  for (const { path } of entries) for (let at = dirname(path); at !== '.'; at = dirname(at)) folders.add(at)
  return [...[...folders].filter((path) => !there.includes(path)).toSorted().map((path): Entry => ({ path, kind: 'folder' })), ...entries]
}

function filesBelow(folder: string): readonly string[] {
  return readdirSync(folder, { withFileTypes: true }).flatMap((entry) => (entry.isDirectory() ? filesBelow(join(folder, entry.name)) : [join(folder, entry.name)]))
}

function file(path: string, bytes: Uint8Array, mode = 0o644): Entry {
  return { path, kind: 'file', bytes, mode }
}

function run(program: string, args: readonly string[], folder: string): string {
  return execFileSync(program, args, { cwd: folder, encoding: 'utf8', stdio: ['ignore', 'pipe', 'pipe'] })
}
