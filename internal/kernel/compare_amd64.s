#include "textflag.h"

// Two numbers are compared at a time, by instructions every processor of this kind has. What comes
// out is packed until each number has one bit: 16 of them make a quarter of a word.

#define LESS $1
#define EQUAL $0
#define NOTLESSOREQUAL $6

// sixteen from SI, while those two words further on are called for: the processor itself looks ahead within a page
#define LOAD(at) \
	PREFETCHT0 (at+1024)(SI); \
	PREFETCHT0 (at+1088)(SI); \
	MOVUPS (at+0)(SI), X0; \
	MOVUPS (at+16)(SI), X1; \
	MOVUPS (at+32)(SI), X2; \
	MOVUPS (at+48)(SI), X3; \
	MOVUPS (at+64)(SI), X4; \
	MOVUPS (at+80)(SI), X5; \
	MOVUPS (at+96)(SI), X6; \
	MOVUPS (at+112)(SI), X7

// with the number in X8
#define WITHCONST(op) \
	CMPPD X8, X0, op; \
	CMPPD X8, X1, op; \
	CMPPD X8, X2, op; \
	CMPPD X8, X3, op; \
	CMPPD X8, X4, op; \
	CMPPD X8, X5, op; \
	CMPPD X8, X6, op; \
	CMPPD X8, X7, op

#define PAIR(at, x, op) \
	MOVUPS (at)(BX), X8; \
	CMPPD X8, x, op

// with sixteen from BX
#define WITHEACH(at, op) \
	PAIR(at+0, X0, op); \
	PAIR(at+16, X1, op); \
	PAIR(at+32, X2, op); \
	PAIR(at+48, X3, op); \
	PAIR(at+64, X4, op); \
	PAIR(at+80, X5, op); \
	PAIR(at+96, X6, op); \
	PAIR(at+112, X7, op)

#define PACK(bits) \
	PACKSSLW X1, X0; \
	PACKSSLW X3, X2; \
	PACKSSLW X5, X4; \
	PACKSSLW X7, X6; \
	PACKSSLW X2, X0; \
	PACKSSLW X6, X4; \
	PACKSSWB X4, X0; \
	PMOVMSKB X0, bits

#define STORE \
	SHLQ $16, R9; \
	SHLQ $32, R10; \
	SHLQ $48, R11; \
	ORQ R9, R8; \
	ORQ R11, R10; \
	ORQ R10, R8; \
	MOVQ R8, (DI); \
	ADDQ $8, DI; \
	ADDQ $512, SI

#define CONSTWORDS(op) \
	MOVQ dst+0(FP), DI; \
	MOVQ a+8(FP), SI; \
	MOVQ words+16(FP), CX; \
	MOVSD c+24(FP), X8; \
	UNPCKLPD X8, X8; \
word: \
	LOAD(0); \
	WITHCONST(op); \
	PACK(R8); \
	LOAD(128); \
	WITHCONST(op); \
	PACK(R9); \
	LOAD(256); \
	WITHCONST(op); \
	PACK(R10); \
	LOAD(384); \
	WITHCONST(op); \
	PACK(R11); \
	STORE; \
	DECQ CX; \
	JNZ word; \
	RET

#define EACHWORDS(op) \
	MOVQ dst+0(FP), DI; \
	MOVQ a+8(FP), SI; \
	MOVQ b+16(FP), BX; \
	MOVQ words+24(FP), CX; \
word: \
	LOAD(0); \
	WITHEACH(0, op); \
	PACK(R8); \
	LOAD(128); \
	WITHEACH(128, op); \
	PACK(R9); \
	LOAD(256); \
	WITHEACH(256, op); \
	PACK(R10); \
	LOAD(384); \
	WITHEACH(384, op); \
	PACK(R11); \
	STORE; \
	ADDQ $512, BX; \
	DECQ CX; \
	JNZ word; \
	RET

// func lessConst64(dst *uint64, a *float64, words int, c float64)
TEXT ·lessConst64(SB), NOSPLIT, $0-32
	CONSTWORDS(LESS)

// func moreConst64(dst *uint64, a *float64, words int, c float64)
TEXT ·moreConst64(SB), NOSPLIT, $0-32
	CONSTWORDS(NOTLESSOREQUAL)

// func equalConst64(dst *uint64, a *float64, words int, c float64)
TEXT ·equalConst64(SB), NOSPLIT, $0-32
	CONSTWORDS(EQUAL)

// func lessEach64(dst *uint64, a, b *float64, words int)
TEXT ·lessEach64(SB), NOSPLIT, $0-32
	EACHWORDS(LESS)

// func equalEach64(dst *uint64, a, b *float64, words int)
TEXT ·equalEach64(SB), NOSPLIT, $0-32
	EACHWORDS(EQUAL)
