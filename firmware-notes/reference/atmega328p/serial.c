#include "serial.h"

#include <stddef.h>

#include <avr/interrupt.h>
#include <avr/io.h>

#include "board.h"
#include "idle.h"

/* At double speed the divider's step is finest: 115200 comes out 2.1 % high, 500000 exact. */
#define DIVIDER ((F_CPU + 4 * BAUD) / (8 * BAUD) - 1)

#define OUT_BYTES 64 /* a power of two */
#define COMMAND_BYTES 24

#define RECEIVE (_BV(RXEN0) | _BV(TXEN0) | _BV(RXCIE0))

static volatile char out[OUT_BYTES];
static volatile uint8_t out_head; /* written by the main program */
static volatile uint8_t out_tail; /* written by the interrupt */

static volatile char command[COMMAND_BYTES];
static volatile uint8_t command_length;
static volatile bool command_too_long;
static volatile bool command_whole;

void serial_start(void) {
    UCSR0A = _BV(U2X0);
    UBRR0 = DIVIDER;
    UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
    UCSR0B = RECEIVE;
}

/*
 * The next byte is fetched with interrupts on, so that sending holds up no edge; until that is done this
 * interrupt is off. None of these instructions changes a flag.
 */
ISR(USART_UDRE_vect, ISR_NAKED) {
    __asm__ volatile(
        "push r24\n\tldi r24, %0\n\tsts %1, r24\n\tsei\n\tpop r24\n\tjmp __vector_send_byte" ::"M"(RECEIVE),
        "n"(_SFR_MEM_ADDR(UCSR0B)));
}

void __vector_send_byte(void) __attribute__((signal, used, externally_visible));
void __vector_send_byte(void) {
    uint8_t at = out_tail;

    if (at != out_head) {
        UDR0 = out[at];
        out_tail = (at + 1) & (OUT_BYTES - 1);
        UCSR0B = RECEIVE | _BV(UDRIE0);
    }
}

void serial_put(char byte) {
    uint8_t at = out_head;
    uint8_t next = (at + 1) & (OUT_BYTES - 1);

    while (next == out_tail) {
        idle_sleep_unless(next != out_tail);
    }
    out[at] = byte;
    out_head = next;
    UCSR0B = RECEIVE | _BV(UDRIE0);
}

ISR(USART_RX_vect) {
    bool damaged = UCSR0A & (_BV(FE0) | _BV(DOR0));
    char byte = UDR0;

    if (command_whole) {
        return; /* the host waits for the answer before it sends the next command */
    }
    if (byte == '\r') {
        return;
    }
    if (byte == '\n') {
        command_whole = command_too_long || command_length > 0;
        idle_not_yet();
        return;
    }
    if (damaged || command_length == COMMAND_BYTES - 1) {
        command_too_long = true;
        return;
    }
    command[command_length++] = byte;
}

bool serial_has_command(void) {
    return command_whole;
}

const char *serial_command(void) {
    if (command_too_long) {
        return NULL;
    }
    command[command_length] = 0;
    return (const char *)command;
}

void serial_command_done(void) {
    command_length = 0;
    command_too_long = false;
    command_whole = false;
}
