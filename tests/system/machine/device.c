/*
 * The device's end of a port in the emulated machine: a USB gadget or a serial line, with a simulated validator behind it.
 *   device bulk|interrupt FOLDER GADGET SIMULATOR_PORT    FunctionFS mounted at FOLDER
 *   device serial TTY GADGET SIMULATOR_PORT               the gadget's end of CDC-ACM, or a plain line (GADGET is -)
 *
 * The simulator is reached over TCP. While it takes our connection the device is plugged in; when it closes it, as its
 * scripts do at `drop` and `unplug`, the device is pulled out of the bus, in whatever state the host is.
 */
#define _GNU_SOURCE

#include <arpa/inet.h>
#include <dirent.h>
#include <endian.h>
#include <errno.h>
#include <fcntl.h>
#include <linux/usb/functionfs.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>

#define RETRY_MS 20

struct ends {
    int from_host;
    int to_host;
};

static const char *gadget; /* its folder in configfs, or "-" */
static const char *tty;    /* NULL = endpoints */
static atomic_int simulator = -1;

static void die(const char *what)
{
    fprintf(stderr, "device: %s: %s\n", what, strerror(errno));
    exit(1);
}

static void pause_briefly(void)
{
    (void)poll(NULL, 0, RETRY_MS);
}

/* ---- Plugging ---- */

static bool file_write(const char *path, const char *text)
{
    int file = open(path, O_WRONLY);
    bool good = file >= 0 && write(file, text, strlen(text)) == (ssize_t)strlen(text);
    if (file >= 0)
        close(file);
    return good;
}

/* The first device controller that no gadget has: each gadget keeps its own. */
static void controller_write(bool plugged)
{
    char path[256];
    if (strcmp(gadget, "-") == 0)
        return;
    snprintf(path, sizeof path, "%s/UDC", gadget);
    if (!plugged) {
        (void)file_write(path, "\n");
        return;
    }
    DIR *folder = opendir("/sys/class/udc");
    bool done = false;
    for (struct dirent *item; folder != NULL && !done && (item = readdir(folder)) != NULL;)
        done = item->d_name[0] != '.' && file_write(path, item->d_name);
    if (folder != NULL)
        closedir(folder);
    if (!done)
        die("no controller takes the gadget");
}

/* ---- FunctionFS: kernel documentation, "How FunctionFS works" ---- */

struct function {
    struct usb_interface_descriptor interface;
    struct usb_endpoint_descriptor_no_audio in;
    struct usb_endpoint_descriptor_no_audio out;
} __attribute__((packed));

struct descriptors {
    struct usb_functionfs_descs_head_v2 head;
    __le32 full_count;
    __le32 high_count;
    struct function full;
    struct function high;
} __attribute__((packed));

struct strings {
    struct usb_functionfs_strings_head head;
    __le16 language;
    char name[6];
} __attribute__((packed));

static struct function function_make(uint8_t type, uint16_t packet)
{
    struct function made = {
        .interface = {.bLength = sizeof made.interface,
                      .bDescriptorType = USB_DT_INTERFACE,
                      .bNumEndpoints = 2,
                      .bInterfaceClass = USB_CLASS_VENDOR_SPEC,
                      .iInterface = 1},
        .in = {.bLength = sizeof made.in,
               .bDescriptorType = USB_DT_ENDPOINT,
               .bEndpointAddress = 1 | USB_DIR_IN,
               .bmAttributes = type,
               .wMaxPacketSize = htole16(packet),
               .bInterval = type == USB_ENDPOINT_XFER_INT ? 4 : 0},
        .out = {.bLength = sizeof made.out,
                .bDescriptorType = USB_DT_ENDPOINT,
                .bEndpointAddress = 2 | USB_DIR_OUT,
                .bmAttributes = type,
                .wMaxPacketSize = htole16(packet),
                .bInterval = type == USB_ENDPOINT_XFER_INT ? 4 : 0},
    };
    return made;
}

static int path_open(const char *folder, const char *name, int flags)
{
    char path[256];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    int file = open(path, flags);
    if (file < 0)
        die(path);
    return file;
}

static void endpoints_open(const char *folder, bool interrupt, struct ends *ends)
{
    uint8_t type = interrupt ? USB_ENDPOINT_XFER_INT : USB_ENDPOINT_XFER_BULK;
    struct descriptors descriptors = {
        .head = {.magic = htole32(FUNCTIONFS_DESCRIPTORS_MAGIC_V2),
                 .length = htole32(sizeof descriptors),
                 .flags = htole32(FUNCTIONFS_HAS_FS_DESC | FUNCTIONFS_HAS_HS_DESC)},
        .full_count = htole32(3),
        .high_count = htole32(3),
        .full = function_make(type, 64),
        .high = function_make(type, interrupt ? 64 : 512),
    };
    struct strings strings = {.head = {.magic = htole32(FUNCTIONFS_STRINGS_MAGIC),
                                       .length = htole32(sizeof strings),
                                       .str_count = htole32(1),
                                       .lang_count = htole32(1)},
                              .language = htole16(0x0409),
                              .name = "notes"};
    int control = path_open(folder, "ep0", O_RDWR); /* stays open: the function lives as long */
    if (write(control, &descriptors, sizeof descriptors) != sizeof descriptors ||
        write(control, &strings, sizeof strings) != sizeof strings)
        die("ep0");
    ends->to_host = path_open(folder, "ep1", O_RDWR);
    ends->from_host = path_open(folder, "ep2", O_RDWR);
}

/* ---- Lines ---- */

static int line_open(void)
{
    int line = open(tty, O_RDWR | O_NOCTTY);
    struct termios raw;
    if (line < 0)
        return -1;
    if (tcgetattr(line, &raw) == 0) {
        cfmakeraw(&raw);
        cfsetspeed(&raw, B9600);
        raw.c_cflag |= CLOCAL;
        tcsetattr(line, TCSANOW, &raw);
        tcflush(line, TCIOFLUSH);
    }
    return line;
}

/* ---- Carrying bytes ---- */

static int simulator_connect(uint16_t port)
{
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_port = htons(port)};
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    for (;;) {
        int handle = socket(AF_INET, SOCK_STREAM, 0);
        int yes = 1;
        setsockopt(handle, IPPROTO_TCP, TCP_NODELAY, &yes, sizeof yes);
        if (connect(handle, (struct sockaddr *)&address, sizeof address) == 0)
            return handle;
        close(handle);
        pause_briefly();
    }
}

/* From the host to the simulator, for ever; what comes while nobody is there is lost, as on a cable. */
static void *from_host_run(void *user)
{
    struct ends *ends = user;
    for (;;) {
        char bytes[1024];
        ssize_t count = read(ends->from_host, bytes, sizeof bytes);
        int to = atomic_load(&simulator);
        if (count > 0 && to >= 0)
            (void)send(to, bytes, (size_t)count, MSG_NOSIGNAL);
        if (count <= 0) {
            if (tty != NULL && strcmp(gadget, "-") != 0)
                return NULL; /* the gadget's line hung up: a new one is opened */
            pause_briefly();
        }
    }
}

/* Until the simulator closes the connection. */
static void to_host_run(const struct ends *ends, int from)
{
    char bytes[1024];
    ssize_t count;
    while ((count = recv(from, bytes, sizeof bytes, 0)) > 0) {
        for (ssize_t done = 0; done < count;) {
            ssize_t written = write(ends->to_host, bytes + done, (size_t)(count - done));
            if (written <= 0)
                break; /* the host has gone: lost, as on a cable */
            done += written;
        }
    }
}

int main(int count, char **arguments)
{
    if (count != 5)
        return 2;
    struct ends ends = {-1, -1};
    pthread_t thread;
    gadget = arguments[3];
    uint16_t port = (uint16_t)strtoul(arguments[4], NULL, 10);
    bool serial = strcmp(arguments[1], "serial") == 0;
    bool line = serial && strcmp(gadget, "-") == 0;
    if (serial)
        tty = arguments[2];
    else
        endpoints_open(arguments[2], strcmp(arguments[1], "interrupt") == 0, &ends);
    if (line)
        ends.from_host = ends.to_host = line_open();
    if (line || !serial)
        pthread_create(&thread, NULL, from_host_run, &ends);
    for (;;) {
        int connected = simulator_connect(port);
        controller_write(true);
        if (serial && !line) {
            ends.from_host = ends.to_host = line_open();
            atomic_store(&simulator, connected);
            pthread_create(&thread, NULL, from_host_run, &ends);
        }
        atomic_store(&simulator, connected);
        to_host_run(&ends, connected);
        atomic_store(&simulator, -1);
        controller_write(false);
        if (serial && !line) {
            pthread_join(thread, NULL);
            close(ends.to_host);
        }
        close(connected);
    }
}
