using System.Buffers.Binary;
using System.Security.Cryptography;

namespace Registry.Operations.Backup;

/// <summary>The file is no archive, was changed or cut short, or was made with another passphrase. The message says what to do.</summary>
public sealed class ArchiveException(string message) : Exception(message);

/// <summary>
/// The start of an archive and the key that follows from it and the passphrase: magic, PBKDF2 rounds, salt, length of a piece. Every
/// archive has a key of its own, so that its pieces may be numbered from zero (NIST SP 800-38D: a key never meets a nonce twice).
/// </summary>
public sealed class ArchiveKey
{
    /// <summary>PBKDF2-HMAC-SHA256: what OWASP's password storage cheat sheet asks for.</summary>
    private const int Rounds = 600_000;

    public const int PieceBytes = 1024 * 1024;
    public const int TagBytes = 16;
    private const int SaltBytes = 16;
    private const int HeaderBytes = 8 + 4 + 4 + SaltBytes;

    private ArchiveKey(byte[] header, string passphrase)
    {
        Header = header;
        Bytes = Rfc2898DeriveBytes.Pbkdf2(passphrase, header.AsSpan(16), BinaryPrimitives.ReadInt32BigEndian(header.AsSpan(8)),
            HashAlgorithmName.SHA256, 32);
    }

    private static ReadOnlySpan<byte> Magic => "REGBKUP1"u8;

    /// <summary>In the clear at the start of the file; each piece is bound to it.</summary>
    public byte[] Header { get; }
    public byte[] Bytes { get; }

    public static ArchiveKey New(string passphrase)
    {
        var header = new byte[HeaderBytes];
        Magic.CopyTo(header);
        BinaryPrimitives.WriteInt32BigEndian(header.AsSpan(8), Rounds);
        BinaryPrimitives.WriteInt32BigEndian(header.AsSpan(12), PieceBytes);
        RandomNumberGenerator.Fill(header.AsSpan(16));
        return new(header, passphrase);
    }

    /// <exception cref="ArchiveException">The file begins otherwise.</exception>
    public static async Task<ArchiveKey> ReadAsync(Stream from, string passphrase, CancellationToken ct)
    {
        var header = new byte[HeaderBytes];
        if (await from.ReadAtLeastAsync(header, HeaderBytes, throwOnEndOfStream: false, ct) < HeaderBytes
            || !header.AsSpan().StartsWith(Magic)
            || BinaryPrimitives.ReadInt32BigEndian(header.AsSpan(8)) is < 100_000 or > 10_000_000
            || BinaryPrimitives.ReadInt32BigEndian(header.AsSpan(12)) != PieceBytes)
            throw new ArchiveException("The file is no backup of a registry.");
        return new(header, passphrase);
    }

    /// <summary>The nonce of a piece: its number, and whether it is the last, so that none can be left out, moved or cut off.</summary>
    public static byte[] Nonce(long piece, bool isLast)
    {
        var nonce = new byte[12];
        BinaryPrimitives.WriteInt64BigEndian(nonce.AsSpan(3), piece);
        nonce[11] = isLast ? (byte)1 : (byte)0;
        return nonce;
    }
}
