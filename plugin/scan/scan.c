/*
 * From a picture to areas. See scan.h.
 * Paper is told from ground by Otsu's threshold (N. Otsu: A threshold selection method from gray-level histograms, IEEE
 * Transactions on Systems, Man, and Cybernetics 9, 1979), then once more against planes fitted to both, so that a shadow or
 * uneven light does not move the edges.
 */
#include "scan/scan.h"

#include "scan/plane.h"

#include <leptonica/allheaders.h>
#include <math.h>
#include <stdlib.h>

#define SIDE_LEAST     100
#define SIDE_MOST      20000
#define CONTRAST_LEAST 30  /* levels of 255 between ground and paper; own limit */
#define SPECK_MM2      4.0 /* what is smaller is dust; own limit */
#define INCH_MM        25.4

/* The bound: the edge may be off by so many pixels all along, and the scale by so many parts. Own figures, tried on made-up
 * pictures (tests/unit/scan); a real scanner or camera may do worse. */
#define EDGE_SCAN_PIXELS  0.35
#define EDGE_PHOTO_PIXELS 0.5
#define SCALE_SCAN        0.001
#define SCALE_PHOTO       0.006

const char *scan_fault_text(enum scan_fault fault)
{
    static const char *const texts[] = {
        [SCAN_GOOD] = "good",
        [SCAN_FILE] = "the file cannot be read as a picture; give PNG, JPEG, TIFF or PNM",
        [SCAN_SIZE] = "the picture is too small or too large; give 100 to 20000 pixels a side",
        [SCAN_CONTRAST] = "paper and ground cannot be told apart; use a dark ground and even light",
        [SCAN_MARKS] = "the four marks were not found; show all of them, light on dark, nothing else near the corners",
        [SCAN_EDGE] = "a piece reaches the edge of the picture; show it whole",
        [SCAN_NOTHING] = "no piece was found; lay it on a dark ground",
        [SCAN_MANY] = "there are too many pieces; show fewer at once",
        [SCAN_MEMORY] = "there is not enough memory; use a smaller picture",
    };
    return texts[fault];
}

/* ---- Paper and ground ---- */

/* The threshold that parts the histogram best: largest variance between the two classes. */
static int otsu_find(const double histogram[256], double total)
{
    double sum = 0;
    for (int i = 0; i < 256; i++)
        sum += i * histogram[i];
    double below = 0;
    double sum_below = 0;
    double best = -1;
    int threshold = 0;
    for (int i = 0; i < 255; i++) {
        below += histogram[i];
        sum_below += i * histogram[i];
        double above = total - below;
        if (below <= 0 || above <= 0)
            continue;
        double gap = sum_below / below - (sum - sum_below) / above;
        double between = below * above * gap * gap;
        if (between > best) {
            best = between;
            threshold = i;
        }
    }
    return threshold;
}

static int level_at(PIX *grey, int x, int y)
{
    return (int)GET_DATA_BYTE(pixGetData(grey) + (size_t)y * (size_t)pixGetWpl(grey), x);
}

static int threshold_of(PIX *grey)
{
    double histogram[256] = {0};
    int width = pixGetWidth(grey);
    int height = pixGetHeight(grey);
    for (int y = 0; y < height; y++) {
        for (int x = 0; x < width; x++)
            histogram[level_at(grey, x, y)] += 1;
    }
    return otsu_find(histogram, (double)width * height);
}

/* Planes through what is surely ground and surely paper: levels near the threshold are edges and stay out. */
static bool planes_fit(PIX *grey, int threshold, struct plane *ground, struct plane *paper)
{
    struct plane_sums low = {0};
    struct plane_sums high = {0};
    for (int y = 0; y < pixGetHeight(grey); y++) {
        for (int x = 0; x < pixGetWidth(grey); x++) {
            int level = level_at(grey, x, y);
            plane_add(level <= threshold ? &low : &high, x, y, level);
        }
    }
    return plane_fit(&low, ground) && plane_fit(&high, paper) && high.v / high.n - low.v / low.n >= CONTRAST_LEAST;
}

/* 1 = paper: nearer to the paper's plane than to the ground's. */
static PIX *paper_find(PIX *grey, enum scan_fault *fault)
{
    struct plane ground;
    struct plane paper;
    *fault = SCAN_CONTRAST;
    if (!planes_fit(grey, threshold_of(grey), &ground, &paper))
        return NULL;
    PIX *mask = pixCreate(pixGetWidth(grey), pixGetHeight(grey), 1);
    *fault = mask != NULL ? SCAN_GOOD : SCAN_MEMORY;
    for (int y = 0; mask != NULL && y < pixGetHeight(grey); y++) {
        l_uint32 *line = pixGetData(mask) + (size_t)y * (size_t)pixGetWpl(mask);
        for (int x = 0; x < pixGetWidth(grey); x++) {
            if (level_at(grey, x, y) > (plane_at(&ground, x, y) + plane_at(&paper, x, y)) / 2)
                SET_DATA_BIT(line, x);
        }
    }
    return mask;
}

/* Dark print inside a piece is paper, too. A hole cannot be told from it: it counts as paper. */
static bool holes_fill(PIX *mask)
{
    PIX *holes = pixHolesByFilling(mask, 8);
    bool good = holes != NULL && pixOr(mask, mask, holes) != NULL;
    pixDestroy(&holes);
    return good;
}

/* ---- Pieces ---- */

/* A connected piece: its mask, and where its upper left corner lies. */
struct part {
    PIX *mask; /* borrowed from the Pixa */
    int left, top;
    double pixels;
    struct spot middle;
};

static void part_read(PIXA *found, int index, struct part *part)
{
    int width;
    int height;
    double x_sum = 0;
    double y_sum = 0;
    part->mask = found->pix[index];
    (void)pixaGetBoxGeometry(found, index, &part->left, &part->top, &width, &height);
    part->pixels = 0;
    for (int y = 0; y < height; y++) {
        const l_uint32 *line = pixGetData(part->mask) + (size_t)y * (size_t)pixGetWpl(part->mask);
        for (int x = 0; x < width; x++) {
            if (GET_DATA_BIT(line, x) == 0)
                continue;
            part->pixels += 1;
            x_sum += part->left + x;
            y_sum += part->top + y;
        }
    }
    part->middle = (struct spot){x_sum / part->pixels, y_sum / part->pixels};
}

static bool paper_at(const struct part *part, int x, int y)
{
    if (x < 0 || y < 0 || x >= pixGetWidth(part->mask) || y >= pixGetHeight(part->mask))
        return false;
    return GET_DATA_BIT(pixGetData(part->mask) + (size_t)y * (size_t)pixGetWpl(part->mask), x) != 0;
}

/* Sides of pixels where the part ends: they overstate a slanted edge by up to 4/pi on average, which only widens the bound. */
static int open_sides(const struct part *part, int x, int y)
{
    return !paper_at(part, x - 1, y) + !paper_at(part, x + 1, y) + !paper_at(part, x, y - 1) +
           !paper_at(part, x, y + 1);
}

static void part_measure(const struct part *part, const struct mapping *mapping, bool photo, struct scan_piece *piece)
{
    double area = 0;
    double edge = 0; /* area of a strip one pixel wide along the edge */
    for (int y = 0; y < pixGetHeight(part->mask); y++) {
        for (int x = 0; x < pixGetWidth(part->mask); x++) {
            if (!paper_at(part, x, y))
                continue;
            double one = mapping_magnify(mapping, part->left + x, part->top + y);
            area += one;
            edge += one * open_sides(part, x, y);
        }
    }
    piece->area_mm2 = area;
    piece->bound_mm2 = edge * (photo ? EDGE_PHOTO_PIXELS : EDGE_SCAN_PIXELS) +
                       area * (photo ? SCALE_PHOTO : SCALE_SCAN);
}

/* ---- Marks ---- */

/* The part whose middle lies nearest to a corner of the picture; -1 = none. */
static int nearest_find(const struct part *parts, int count, struct spot corner)
{
    int nearest = -1;
    double best = 0;
    for (int i = 0; i < count; i++) {
        double distance = hypot(parts[i].middle.x - corner.x, parts[i].middle.y - corner.y);
        if (nearest < 0 || distance < best) {
            nearest = i;
            best = distance;
        }
    }
    return nearest;
}

/* Marks have the size that marks have, by the map that they themselves make; otherwise something else lay in a corner. */
static bool marks_good(const struct part *parts, const int marks[4], const struct mapping *mapping)
{
    for (int i = 0; i < 4; i++) {
        const struct part *mark = &parts[marks[i]];
        double area = mark->pixels * mapping_magnify(mapping, mark->middle.x, mark->middle.y);
        bool size = area > 0.6 * SCAN_MARK_MM * SCAN_MARK_MM && area < 1.5 * SCAN_MARK_MM * SCAN_MARK_MM;
        for (int j = 0; j < i; j++)
            size = size && marks[i] != marks[j];
        if (!size)
            return false;
    }
    return true;
}

/* The middle of a mark's picture is not the picture of its middle; what the map says of its edge pixels is. */
static struct spot mark_correct(const struct part *mark, const struct mapping *mapping, struct spot meant)
{
    double x_sum = 0;
    double y_sum = 0;
    double weight = 0;
    for (int y = 0; y < pixGetHeight(mark->mask); y++) {
        for (int x = 0; x < pixGetWidth(mark->mask); x++) {
            if (!paper_at(mark, x, y))
                continue;
            struct spot spot = {mark->left + x, mark->top + y};
            double one = mapping_magnify(mapping, spot.x, spot.y);
            spot = mapping_apply(mapping, spot);
            x_sum += one * spot.x;
            y_sum += one * spot.y;
            weight += one;
        }
    }
    /* As far as the true middle is from where it should be, in pixels. */
    double scale = sqrt(mapping_magnify(mapping, mark->middle.x, mark->middle.y));
    return (struct spot){mark->middle.x + (meant.x - x_sum / weight) / scale,
                         mark->middle.y + (meant.y - y_sum / weight) / scale};
}

static bool marks_map(const struct part *parts, int count, PIX *grey, const struct scan_scale *scale, int marks[4],
                      struct mapping *mapping)
{
    double right = pixGetWidth(grey);
    double bottom = pixGetHeight(grey);
    const struct spot corners[4] = {{0, 0}, {right, 0}, {right, bottom}, {0, bottom}};
    const struct spot meant[4] = {
        {0, 0}, {scale->length_mm, 0}, {scale->length_mm, scale->height_mm}, {0, scale->height_mm}};
    struct spot middles[4];
    if (count < 5)
        return false;
    for (int i = 0; i < 4; i++) {
        marks[i] = nearest_find(parts, count, corners[i]);
        middles[i] = parts[marks[i]].middle;
    }
    if (!mapping_find(middles, scale->length_mm, scale->height_mm, mapping) || !marks_good(parts, marks, mapping))
        return false;
    for (int i = 0; i < 4; i++)
        middles[i] = mark_correct(&parts[marks[i]], mapping, meant[i]);
    return mapping_find(middles, scale->length_mm, scale->height_mm, mapping);
}

/* ---- The whole ---- */

static int larger_first(const void *first, const void *second)
{
    const struct scan_piece *a = first;
    const struct scan_piece *b = second;
    return (a->area_mm2 < b->area_mm2) - (a->area_mm2 > b->area_mm2);
}

static bool at_edge(const struct part *part, PIX *grey)
{
    return part->left == 0 || part->top == 0 || part->left + pixGetWidth(part->mask) == pixGetWidth(grey) ||
           part->top + pixGetHeight(part->mask) == pixGetHeight(grey);
}

static bool is_mark(int index, const int marks[4])
{
    return index == marks[0] || index == marks[1] || index == marks[2] || index == marks[3];
}

static enum scan_fault parts_measure(const struct part *parts, int count, PIX *grey, const struct scan_scale *scale,
                                     struct scan_result *result)
{
    int marks[4] = {-1, -1, -1, -1};
    bool photo = scale->dpi <= 0;
    struct mapping mapping = {0};
    if (photo && !marks_map(parts, count, grey, scale, marks, &mapping))
        return SCAN_MARKS;
    if (!photo)
        mapping.a = mapping.e = INCH_MM / scale->dpi;
    for (int i = 0; i < count; i++) {
        struct scan_piece piece;
        if (is_mark(i, marks))
            continue;
        part_measure(&parts[i], &mapping, photo, &piece);
        if (piece.area_mm2 < SPECK_MM2)
            continue;
        if (at_edge(&parts[i], grey))
            return SCAN_EDGE;
        if (result->count == SCAN_PIECES_MAX)
            return SCAN_MANY;
        result->pieces[result->count++] = piece;
    }
    qsort(result->pieces, result->count, sizeof result->pieces[0], larger_first);
    return result->count > 0 ? SCAN_GOOD : SCAN_NOTHING;
}

/* Pieces that touch at a corner only are not one: four neighbours, not eight. */
static enum scan_fault mask_measure(PIX *mask, PIX *grey, const struct scan_scale *scale, struct scan_result *result)
{
    PIXA *found = NULL;
    BOXA *boxes = pixConnComp(mask, &found, 4);
    int count = boxes != NULL ? boxaGetCount(boxes) : 0;
    struct part *parts = calloc((size_t)count + 1, sizeof *parts);
    int kept = 0;
    for (int i = 0; parts != NULL && i < count; i++) {
        part_read(found, i, &parts[kept]);
        kept += parts[kept].pixels >= 9; /* single pixels of noise */
    }
    enum scan_fault fault = parts != NULL && boxes != NULL ? parts_measure(parts, kept, grey, scale, result)
                                                           : SCAN_MEMORY;
    free(parts);
    boxaDestroy(&boxes);
    pixaDestroy(&found);
    return fault;
}

enum scan_fault scan_measure(struct Pix *picture, const struct scan_scale *scale, struct scan_result *result)
{
    result->count = 0;
    int width = pixGetWidth(picture);
    int height = pixGetHeight(picture);
    if (width < SIDE_LEAST || height < SIDE_LEAST || width > SIDE_MOST || height > SIDE_MOST)
        return SCAN_SIZE;
    PIX *grey = pixConvertTo8(picture, 0);
    if (grey == NULL)
        return SCAN_MEMORY;
    enum scan_fault fault;
    PIX *mask = paper_find(grey, &fault);
    if (mask != NULL)
        fault = holes_fill(mask) ? mask_measure(mask, grey, scale, result) : SCAN_MEMORY;
    pixDestroy(&mask);
    pixDestroy(&grey);
    return fault;
}

enum scan_fault scan_file_measure(const char *path, const struct scan_scale *scale, struct scan_result *result)
{
    result->count = 0;
    setMsgSeverity(L_SEVERITY_NONE);
    PIX *picture = pixRead(path);
    if (picture == NULL)
        return SCAN_FILE;
    struct scan_scale known = *scale;
    if (known.dpi <= 0 && known.length_mm <= 0)
        known.dpi = pixGetXRes(picture);
    enum scan_fault fault = known.dpi <= 0 && known.length_mm <= 0 ? SCAN_MARKS : scan_measure(picture, &known, result);
    pixDestroy(&picture);
    return fault;
}
