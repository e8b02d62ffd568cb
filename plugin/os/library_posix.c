/*
 * How do POSIX systems load a shared library by the path of its file? See os.h.
 */
#include "model/memory.h"
#include "model/text.h"
#include "os/os.h"

#include <dlfcn.h>
#include <errno.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

struct os_library {
    void *native;
};

bool os_path_has_folder(const char *path)
{
    return strchr(path, '/') != NULL;
}

static enum os_library_result fault_set(struct os_library_fault *fault, enum os_library_result result, int code,
                                        const char *line)
{
    fault->os_code = code;
    text_copy(fault->line, sizeof fault->line, line);
    return result;
}

static const char *file_line(int code)
{
    switch (code) {
    case ENOENT:
    case ENOTDIR:
        return "there is no such file";
    case EACCES:
        return "there is no permission to read it";
    default:
        return "it cannot be read";
    }
}

/* Only a plain file goes to the loader: opening a pipe could wait for ever. */
static enum os_library_result file_check(const char *path, struct os_library_fault *fault)
{
    struct stat status;
    if (stat(path, &status) != 0 || access(path, R_OK) != 0)
        return fault_set(fault, OS_LIBRARY_NO_FILE, errno, file_line(errno));
    if (S_ISDIR(status.st_mode))
        return fault_set(fault, OS_LIBRARY_NO_FILE, EISDIR, "it is a folder, not a file");
    if (!S_ISREG(status.st_mode))
        return fault_set(fault, OS_LIBRARY_NO_FILE, EINVAL, "it is not a plain file");
    return OS_LIBRARY_OPEN;
}

/* The loader begins its line with the path, which the caller knows. */
static const char *line_without_path(const char *line, const char *path)
{
    size_t length = strlen(path);
    bool begins = strncmp(line, path, length) == 0 && strncmp(line + length, ": ", 2) == 0;
    return begins ? line + length + 2 : line;
}

static enum os_library_result native_open(const char *path, void **native, struct os_library_fault *fault)
{
    errno = 0;
    *native = dlopen(path, RTLD_NOW | RTLD_LOCAL);
    if (*native != NULL)
        return OS_LIBRARY_OPEN;
    int code = errno;
    const char *line = dlerror();
    enum os_library_result result = code == ENOMEM ? OS_LIBRARY_NO_MEMORY : OS_LIBRARY_REFUSED;
    fault_set(fault, result, code, line != NULL ? line_without_path(line, path) : "the loader does not say why");
    (void)dlerror(); /* glibc frees the line of the failure with the second call */
    return result;
}

enum os_library_result os_library_open(const struct memory *memory, const char *path, struct os_library **library,
                                       struct os_library_fault *fault)
{
    *library = NULL;
    *fault = (struct os_library_fault){0};
    enum os_library_result result = file_check(path, fault);
    if (result != OS_LIBRARY_OPEN)
        return result;
    struct os_library *made = memory_allocate(memory, sizeof *made);
    if (made == NULL)
        return OS_LIBRARY_NO_MEMORY;
    result = native_open(path, &made->native, fault);
    if (result == OS_LIBRARY_OPEN)
        *library = made;
    else
        memory_release(memory, made);
    return result;
}

void os_library_close(const struct memory *memory, struct os_library *library)
{
    if (library == NULL)
        return;
    (void)dlclose(library->native);
    memory_release(memory, library);
}

os_function os_library_function(const struct os_library *library, const char *name)
{
    void *symbol = dlsym(library->native, name);
    os_function function = NULL;
    _Static_assert(sizeof symbol == sizeof function, "POSIX, dlsym(): both kinds of pointer are of one size");
    memcpy(&function, &symbol, sizeof function);
    if (symbol == NULL)
        (void)dlerror();
    return function;
}
