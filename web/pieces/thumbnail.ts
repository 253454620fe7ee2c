// A small picture of a picture, made here so that a list of photographs need not load them whole.
import { THUMBNAIL_LIMIT, THUMBNAIL_SIDE } from '@guardband/model/api/evidence-limits'

/** Null for what this browser can't read as a picture. */
export async function makeThumbnail(file: Blob): Promise<Blob | null> {
  if (!file.type.startsWith('image/') || file.type.includes('svg')) return null
  try {
    // As the camera was held, not as its sensor lies.
    const picture = await createImageBitmap(file, { imageOrientation: 'from-image' })
    const shrink = Math.min(1, THUMBNAIL_SIDE / Math.max(picture.width, picture.height))
    const canvas = document.createElement('canvas')
    canvas.width = Math.max(1, Math.round(picture.width * shrink))
    canvas.height = Math.max(1, Math.round(picture.height * shrink))
    const paint = canvas.getContext('2d')
    if (paint === null) return null
    // JPEG has no clear ground; without one it would come out black.
    paint.fillStyle = '#fff'
    paint.fillRect(0, 0, canvas.width, canvas.height)
    paint.imageSmoothingQuality = 'high'
    paint.drawImage(picture, 0, 0, canvas.width, canvas.height)
    picture.close()
    const small = await new Promise<Blob | null>((resolve) => canvas.toBlob(resolve, 'image/jpeg', QUALITY))
    return small !== null && small.size <= THUMBNAIL_LIMIT ? small : null
  } catch {
    return null
  }
}

const QUALITY = 0.8
