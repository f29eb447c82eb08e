"""What a user would do without gatefold: OpenCV's plain recipes for straightening a photo of a card.

On standard input, one job after the other: a line of JSON, and "bytes" bytes of the JPEG file after it.
On standard output, one line of JSON for each: maps from mm on the sheet to px of the photo, 3 x 3 by rows,
and how many tags they rest on. No map: the method found nothing. Needs Debian's python3-opencv, 4.6.

The settings are the best of those tried on photos of seeds below 100,000; see README.md.
"""

import itertools
import json
import sys

import cv2
import numpy as np

cv2.setNumThreads(1)

# The contour recipe, as tutorials have it.
LONG_SIDE = 1000  # px that the photo is made smaller to before edges are looked for
CANNY = (30, 90)
LEAST_AREA = 0.1  # of the picture: what is smaller is no page
POLYGON = {"contour": 0.02, "contour-hull": 0.03}  # of the outline's length

TAGS = {"aruco-4x4": cv2.aruco.DICT_4X4_50, "apriltag-36h11": cv2.aruco.DICT_APRILTAG_36h11}


def contour(grey, job):
    """The largest outline with four corners is taken for the card's edge; contour-hull takes the outlines'
    convex hulls, so that a finger over the edge does not spoil it. Which way round the card lies can't be seen
    from its edge, so all four ways are returned."""
    scale = LONG_SIDE / max(grey.shape)
    small = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    edges = cv2.Canny(cv2.GaussianBlur(small, (5, 5), 0), *CANNY)
    edges = cv2.dilate(edges, np.ones((3, 3), np.uint8))  # closes small gaps in an edge
    outlines, _ = cv2.findContours(edges, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
    if job["method"] == "contour-hull":
        outlines = [cv2.convexHull(o) for o in outlines]
    for outline in sorted(outlines, key=cv2.contourArea, reverse=True)[:10]:
        if cv2.contourArea(outline) < LEAST_AREA * small.size:
            break
        quad = cv2.approxPolyDP(outline, POLYGON[job["method"]] * cv2.arcLength(outline, True), True)
        if len(quad) != 4 or not cv2.isContourConvex(quad):
            continue
        quad = (quad.reshape(4, 2).astype(np.float32) + 0.5) / scale - 0.5
        if cv2.contourArea(quad, oriented=True) < 0:
            quad = quad[::-1]  # clockwise as seen, y down
        w, h = job["w"], job["h"]
        sheet = np.float32([[0, 0], [w, 0], [w, h], [0, h]])
        turns = [cv2.getPerspectiveTransform(sheet, np.float32(np.roll(quad, k, axis=0))) for k in range(4)]
        return turns, 0
    return [], 0


def tags(grey, job):
    """The corners of all tags that are seen, and one homography through them."""
    p = cv2.aruco.DetectorParameters_create()
    p.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    p.perspectiveRemovePixelPerCell = 8  # twice the usual: finds a third more tags on hard photos
    p.perspectiveRemoveIgnoredMarginPerCell = 0.25
    found, ids, _ = cv2.aruco.detectMarkers(grey, cv2.aruco.Dictionary_get(TAGS[job["method"]]), parameters=p)
    seen = [[] for _ in job["tags"]]
    for corners, tag in zip(found, [] if ids is None else ids.flatten()):
        if tag < len(seen):
            seen[tag].append(corners.reshape(4, 2).tolist())
    places = [place for place, all_corners in zip(job["tags"], seen) if all_corners]
    sheet = np.float64([c for x, y, w, h in places for c in ([x, y], [x + w, y], [x + w, y + h], [x, y + h])])
    best = None
    # A second card in the picture has the same tags. Those that fit one card best are taken.
    for choice in itertools.islice(itertools.product(*[s for s in seen if s]), 64):
        if not choice:
            break
        photo = np.float64([c for corners in choice for c in corners])
        h, _ = cv2.findHomography(sheet, photo, 0)
        if h is None:
            continue
        off = cv2.perspectiveTransform(sheet.reshape(-1, 1, 2), h).reshape(-1, 2) - photo
        if best is None or (off**2).sum() < best[1]:
            best = h, (off**2).sum()
    return ([best[0]] if best else []), len(places)


def main():
    stdin = sys.stdin.buffer
    while line := stdin.readline():
        job = json.loads(line)
        grey = cv2.imdecode(np.frombuffer(stdin.read(job["bytes"]), np.uint8), cv2.IMREAD_GRAYSCALE)
        maps, n = contour(grey, job) if job["method"] in POLYGON else tags(grey, job)
        print(json.dumps({"maps": [m.flatten().tolist() for m in maps], "tags": n}), flush=True)


main()
