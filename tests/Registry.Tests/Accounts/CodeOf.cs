using System.Buffers.Binary;
using System.Globalization;
using System.Security.Cryptography;

namespace Registry.Tests.Accounts;

/// <summary>An authenticator of the tests' own: RFC 4226 and RFC 6238, SHA-1, 30 seconds, six figures.</summary>
internal static class CodeOf
{
    private const string Base32 = "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567";

    public static string Key(string base32, DateTimeOffset at)
    {
        Span<byte> step = stackalloc byte[8];
        BinaryPrimitives.WriteInt64BigEndian(step, at.ToUnixTimeSeconds() / 30);
#pragma warning disable CA5350 // RFC 6238's default
        var hash = HMACSHA1.HashData(Bytes(base32), step);
#pragma warning restore CA5350
        var number = BinaryPrimitives.ReadInt32BigEndian(hash.AsSpan(hash[^1] & 0xf)) & 0x7fff_ffff;
        return (number % 1_000_000).ToString("000000", CultureInfo.InvariantCulture);
    }

    private static byte[] Bytes(string base32)
    {
        var bits = string.Concat(base32.Replace(" ", "", StringComparison.Ordinal).TrimEnd('=')
            .Select(c => Convert.ToString(Base32.IndexOf(c, StringComparison.Ordinal), 2).PadLeft(5, '0')));
        return [.. bits.Chunk(8).Where(b => b.Length == 8).Select(b => Convert.ToByte(new string(b), 2))];
    }
}
