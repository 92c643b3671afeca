/** Where the card of a piece goes: beside the piece and its arrow, never over them while there is room. In px. */

export interface BoxPx {
  left: number;
  top: number;
  right: number;
  bottom: number;
}
interface SizePx {
  width: number;
  height: number;
}

const AWAY_PX = 14;
const MARGIN_PX = 8;

export function cardPlace(piece: BoxPx, card: SizePx, room: SizePx): { left: number; top: number } {
  const within = (at: number, size: number, most: number) => Math.min(Math.max(MARGIN_PX, at), Math.max(MARGIN_PX, most - size - MARGIN_PX));
  const beside = within((piece.top + piece.bottom - card.height) / 2, card.height, room.height);
  const over = within((piece.left + piece.right - card.width) / 2, card.width, room.width);
  const tries = [
    { left: piece.right + AWAY_PX, top: beside },
    { left: piece.left - AWAY_PX - card.width, top: beside },
    { left: over, top: piece.bottom + AWAY_PX },
    { left: over, top: piece.top - AWAY_PX - card.height },
  ];
  const fits = ({ left, top }: { left: number; top: number }) =>
    left >= MARGIN_PX && top >= MARGIN_PX && left + card.width <= room.width - MARGIN_PX && top + card.height <= room.height - MARGIN_PX;
  // no room at any side: the corner that is farthest from the piece
  const corner = {
    left: piece.left + piece.right < room.width ? room.width - card.width - MARGIN_PX : MARGIN_PX,
    top: piece.top + piece.bottom < room.height ? room.height - card.height - MARGIN_PX : MARGIN_PX,
  };
  return tries.find(fits) ?? { left: Math.max(MARGIN_PX, corner.left), top: Math.max(MARGIN_PX, corner.top) };
}
