using System.Buffers.Binary;
using System.IO.Compression;
using Registry.Intake.Raw;
using Registry.Intake.Rows;

namespace Registry.Intake.Formats.Workbooks;

/// <summary>
/// A workbook is a zip archive (ECMA-376 part 2). Looks at its table of contents before anything is unpacked: how many parts there are, how
/// long the table is, and what the parts unpack to. No part unpacks to more than the table says.
/// </summary>
internal static class CheckArchive
{
    private const int MaxParts = 2_000;

    /// <summary>The table of contents: 46 bytes and a name for each part.</summary>
    private const long MaxTable = MaxParts * 1024;

    private const long SmallBytes = 1024 * 1024;

    /// <summary>The part that lists the others, and those that say how they belong together: they are held in memory whole.</summary>
    private const long MaxListBytes = 2 * 1024 * 1024;

    /// <exception cref="UnreadableFileException">It is too large, or no such archive.</exception>
    /// <exception cref="InvalidDataException">It is damaged.</exception>
    public static void Run(Stream bytes, IntakeOptions limits)
    {
        var start = new byte[4];
        bytes.Position = 0;
        var length = bytes.ReadAtLeast(start, 4, throwOnEndOfStream: false);
        if (start.AsSpan(0, length) is [0xD0, 0xCF, 0x11, 0xE0])
            throw new UnreadableFileException(
                0, null, "the workbook is protected by a password, or of the old .xls kind: save it as .xlsx without a password");
        CheckTable(bytes);
        bytes.Position = 0;
        using var archive = new ZipArchive(bytes, ZipArchiveMode.Read, leaveOpen: true);
        if (archive.Entries.Count > MaxParts) throw TooMany();
        var (total, lists) = (0L, 0L);
        foreach (var part in archive.Entries)
        {
            total += part.Length;
            if (total > limits.MaxBytes)
                throw new UnreadableFileException(0, null, $"the workbook unpacks to more than {limits.MaxBytes} bytes");
            if (part.Length > SmallBytes && part.Length > part.CompressedLength * limits.MaxRatio)
                throw new UnreadableFileException(0, null, $"a part of the workbook unpacks to more than {limits.MaxRatio} times its size");
            if (part.FullName.EndsWith(".rels", StringComparison.OrdinalIgnoreCase)
                || part.FullName.Contains("[Content_Types]", StringComparison.OrdinalIgnoreCase)) lists += part.Length;
            if (lists > MaxListBytes)
                throw new UnreadableFileException(
                    0, null, $"the lists of the workbook's parts are longer than {MaxListBytes} bytes: send CSV");
        }
    }

    /// <summary>The record at the archive's end says how many entries the table has and where it begins (ECMA-376 part 2, annex B, after
    /// APPNOTE 4.3.16).</summary>
    private static void CheckTable(Stream bytes)
    {
        const int record = 22;
        var tail = new byte[(int)Math.Min(bytes.Length, record + ushort.MaxValue)];
        bytes.Position = bytes.Length - tail.Length;
        bytes.ReadExactly(tail);
        var at = tail.AsSpan().LastIndexOf("PK\u0005\u0006"u8);
        if (at < 0 || at + record > tail.Length) throw new InvalidDataException();
        var entries = BinaryPrimitives.ReadUInt16LittleEndian(tail.AsSpan(at + 10));
        var begins = BinaryPrimitives.ReadUInt32LittleEndian(tail.AsSpan(at + 16));
        // Ones in every bit refer to the larger form of archives beyond 65,534 entries or 4 GiB.
        if (entries > MaxParts || begins == uint.MaxValue || bytes.Length - tail.Length + at - begins > MaxTable) throw TooMany();
    }

    private static UnreadableFileException TooMany() => new(0, null, $"the workbook has more than {MaxParts} parts");
}
