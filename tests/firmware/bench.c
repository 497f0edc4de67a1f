/*
 * bench.c - a simulated ATmega328P on a bench: edges at exact processor cycles in, its serial line out on a
 * pseudo-terminal. The tester drives it in lock-step through standard input, so no test waits or guesses.
 *
 *   bench BOARD.elf            prints the pseudo-terminal's path, then obeys:
 *
 *   edge CYCLE PIN LEVEL       plan an edge on a port D pin (no reply); cycles ascending
 *   run CYCLE                  let the board run until then         -> ok CYCLE BYTES_SENT_SO_FAR
 *   await COUNT                wait until the host has written COUNT bytes in all, then give them to the
 *                              board at the line's rate             -> ok CYCLE BYTES_SENT_SO_FAR
 *   lamp                       level of PB5                         -> 0 or 1
 *   reset                      pull the reset pin                   -> ok CYCLE BYTES_SENT_SO_FAR
 *   quit
 *
 * Built against libsimavr, whose model needs three corrections: it counts a serial frame as eleven bits, it
 * misses the double-speed bit when that is set before the divider is read again, and it really sleeps when the
 * processor does.
 */
#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

#include <avr_ioport.h>
#include <avr_uart.h>
#include <sim_avr.h>
#include <sim_elf.h>

#define UCSR0A 0xC0
#define UBRR0L 0xC4
#define UBRR0H 0xC5
#define PORTB 0x25
#define U2X0 0x02

struct edge {
    avr_cycle_count_t cycle;
    uint8_t pin, level;
};

struct bytes {
    uint8_t *data;
    size_t used, room, taken;
};

static avr_t *avr;
static avr_uart_t *uart;
static avr_irq_t *port_d[8];
static int pty, pty_slave;
static struct edge *edges;
static size_t edges_planned, edges_room, edges_done;
static struct bytes to_host, to_board;

static void fail(const char *what) {
    fprintf(stderr, "bench: %s: %s\n", what, errno ? strerror(errno) : "failed");
    exit(2);
}

static void append(struct bytes *b, const uint8_t *data, size_t n) {
    if (b->used + n > b->room) {
        b->room = 2 * (b->used + n) + 4096;
        b->data = realloc(b->data, b->room);
        if (!b->data) {
            fail("memory");
        }
    }
    memcpy(b->data + b->used, data, n);
    b->used += n;
}

/* ---- the pseudo-terminal -------------------------------------------------------------------------------- */

static void open_pty(void) {
    struct termios raw;

    pty = posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK);
    if (pty < 0 || grantpt(pty) || unlockpt(pty)) {
        fail("pseudo-terminal");
    }
    /* held open, so that the terminal lives on while the host comes and goes */
    pty_slave = open(ptsname(pty), O_RDWR | O_NOCTTY);
    if (pty_slave < 0 || tcgetattr(pty_slave, &raw)) {
        fail("pseudo-terminal");
    }
    cfmakeraw(&raw);
    tcsetattr(pty_slave, TCSANOW, &raw);
    printf("terminal %s\n", ptsname(pty));
}

/* Hand over what the terminal takes now; the rest waits in memory, so that nobody can block anybody. */
static void flush_to_host(void) {
    while (to_host.taken < to_host.used) {
        ssize_t n = write(pty, to_host.data + to_host.taken, to_host.used - to_host.taken);

        if (n <= 0) {
            return;
        }
        to_host.taken += (size_t)n;
    }
}

static void read_from_host(void) {
    uint8_t chunk[4096];
    ssize_t n;

    while ((n = read(pty, chunk, sizeof chunk)) > 0) {
        append(&to_board, chunk, (size_t)n);
    }
}

/* ---- the serial line ------------------------------------------------------------------------------------ */

static avr_cycle_count_t cycles_per_byte(void) {
    unsigned divider = avr->data[UBRR0L] | (avr->data[UBRR0H] & 0x0F) << 8;

    return (avr_cycle_count_t)(divider + 1) * (avr->data[UCSR0A] & U2X0 ? 8 : 16) * 10;
}

static void byte_from_board(avr_irq_t *irq, uint32_t value, void *unused) {
    uint8_t byte = (uint8_t)value;

    (void)irq, (void)unused;
    append(&to_host, &byte, 1);
}

static avr_cycle_count_t byte_to_board(avr_t *a, avr_cycle_count_t when, void *unused) {
    (void)unused;
    if (to_board.taken == to_board.used) {
        return 0;
    }
    avr_raise_irq(avr_io_getirq(a, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT), to_board.data[to_board.taken++]);
    return when + cycles_per_byte();
}

/* ---- edges ---------------------------------------------------------------------------------------------- */

static void plan_edge(const char *line) {
    unsigned long long cycle;
    unsigned pin, level;

    if (sscanf(line, "edge %llu %u %u", &cycle, &pin, &level) != 3 || pin > 7 || level > 1) {
        fail(line);
    }
    if (edges_planned == edges_room) {
        edges_room = 2 * edges_room + 1024;
        edges = realloc(edges, edges_room * sizeof *edges);
        if (!edges) {
            fail("memory");
        }
    }
    if (edges_planned && edges[edges_planned - 1].cycle > cycle) {
        fail("edges must ascend");
    }
    edges[edges_planned++] = (struct edge){cycle, (uint8_t)pin, (uint8_t)level};
}

/* One chained timer for all edges: the simulator has few timers and each wakes the processor exactly. */
static avr_cycle_count_t next_edges(avr_t *a, avr_cycle_count_t when, void *unused) {
    (void)when, (void)unused;
    while (edges_done < edges_planned && edges[edges_done].cycle <= a->cycle) {
        avr_raise_irq(port_d[edges[edges_done].pin], edges[edges_done].level);
        edges_done++;
    }
    return edges_done < edges_planned ? edges[edges_done].cycle : 0;
}

/* ---- the processor -------------------------------------------------------------------------------------- */

static void sleep_without_waiting(avr_t *a, avr_cycle_count_t cycles) {
    (void)a, (void)cycles;
}

static avr_cycle_count_t stop_here(avr_t *a, avr_cycle_count_t when, void *unused) {
    (void)a, (void)when, (void)unused;
    return 0; /* exists to bound how far a sleeping processor skips ahead */
}

static void run_until(avr_cycle_count_t end) {
    if (edges_done < edges_planned) {
        avr_cycle_count_t first = edges[edges_done].cycle;

        avr_cycle_timer_register(avr, first > avr->cycle ? first - avr->cycle : 1, next_edges, NULL);
    }
    if (end > avr->cycle) {
        avr_cycle_timer_register(avr, end - avr->cycle, stop_here, NULL);
    }
    while (avr->cycle < end) {
        int state;

        uart->cycles_per_byte = cycles_per_byte();
        state = avr_run(avr);
        if (state == cpu_Done || state == cpu_Crashed) {
            errno = 0;
            fail("the firmware crashed or slept for ever");
        }
    }
    avr_cycle_timer_cancel(avr, next_edges, NULL);
    flush_to_host();
}

static void find_parts(void) {
    uint32_t flags = 0;

    for (avr_io_t *io = avr->io_port; io; io = io->next) {
        if (!strcmp(io->kind, "uart")) {
            uart = (avr_uart_t *)io;
        }
    }
    if (!uart) {
        fail("no serial unit");
    }
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), byte_from_board,
                            NULL);
    for (int pin = 0; pin < 8; pin++) {
        port_d[pin] = avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ('D'), pin);
        avr_raise_irq(port_d[pin], 1);
    }
}

static void load(const char *path) {
    elf_firmware_t firmware = {0};

    if (elf_read_firmware(path, &firmware)) {
        fail(path);
    }
    avr = avr_make_mcu_by_name("atmega328p");
    if (!avr) {
        fail("processor model");
    }
    avr_init(avr);
    avr->log = LOG_ERROR;
    avr->frequency = 16000000;
    avr_load_firmware(avr, &firmware);
    avr->sleep = sleep_without_waiting;
    find_parts();
}

/* ---- orders from the tester ----------------------------------------------------------------------------- */

static void reply(void) {
    printf("ok %llu %zu\n", (unsigned long long)avr->cycle, to_host.used);
}

static void await_bytes(size_t count) {
    for (int tries = 0; to_board.used < count; tries++) {
        struct pollfd terminal = {pty, POLLIN, 0};

        if (tries > 200) {
            fail("bytes from the host did not come");
        }
        poll(&terminal, 1, 50);
        read_from_host();
    }
    avr_cycle_timer_register(avr, cycles_per_byte(), byte_to_board, NULL);
    reply();
}

static bool obey(const char *line) {
    if (!strncmp(line, "edge ", 5)) {
        plan_edge(line);
    } else if (!strncmp(line, "run ", 4)) {
        run_until(strtoull(line + 4, NULL, 10));
        reply();
    } else if (!strncmp(line, "await ", 6)) {
        await_bytes(strtoull(line + 6, NULL, 10));
    } else if (!strncmp(line, "lamp", 4)) {
        printf("%d\n", avr->data[PORTB] >> 5 & 1);
    } else if (!strncmp(line, "reset", 5)) {
        avr_reset(avr);
        reply();
    } else if (!strncmp(line, "quit", 4)) {
        return false;
    } else {
        errno = 0;
        fail(line);
    }
    return true;
}

/* Lines from standard input while, in between, the terminal is fed. */
int main(int argc, char **argv) {
    static char buffer[1 << 16];
    size_t used = 0;

    if (argc != 2) {
        fprintf(stderr, "usage: bench BOARD.elf\n");
        return 2;
    }
    setvbuf(stdout, NULL, _IOLBF, 0);
    load(argv[1]);
    open_pty();
    for (;;) {
        struct pollfd wait[2] = {{STDIN_FILENO, POLLIN, 0},
                                 {to_host.taken < to_host.used ? pty : -1, POLLOUT, 0}};
        char *start = buffer, *end;
        ssize_t n;

        poll(wait, 2, -1);
        flush_to_host();
        if (!(wait[0].revents & (POLLIN | POLLHUP))) {
            continue;
        }
        n = read(STDIN_FILENO, buffer + used, sizeof buffer - used - 1);
        if (n <= 0) {
            return 0;
        }
        used += (size_t)n;
        buffer[used] = 0;
        while ((end = strchr(start, '\n'))) {
            *end = 0;
            if (!obey(start)) {
                return 0;
            }
            start = end + 1;
        }
        used = (size_t)(buffer + used - start);
        memmove(buffer, start, used);
    }
}
