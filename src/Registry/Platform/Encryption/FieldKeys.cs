using System.Buffers.Binary;
using System.Buffers.Text;
using System.Globalization;
using System.Security.Cryptography;
using System.Text;

namespace Registry.Platform.Encryption;

/// <summary>
/// The keys some columns are encrypted with (AES-256-GCM), and the one that ways to reach a family are looked up by (HMAC-SHA256). The last
/// key of the file encrypts, every key decrypts: a value names its key. They are not in the database: a copy of it tells no telephone
/// number.
/// </summary>
/// <remarks>One for the process, like the database it belongs to is one for the program: facts are read by tables that are described
/// once.</remarks>
public sealed class FieldKeys
{
    /// <summary>What a value or a piece grows by: nonce and tag.</summary>
    public const int AddedBytes = NonceBytes + TagBytes;

    private const int NonceBytes = 12, TagBytes = 16;
    private const string Mark = "enc:";

    private static volatile FieldKeys? _ofProcess;

    private readonly Dictionary<string, byte[]> _keys;
    private readonly byte[] _lookUp;

    internal FieldKeys(IReadOnlyList<(string Id, byte[] Key)> keys, byte[] lookUp)
    {
        _keys = keys.ToDictionary(k => k.Id, k => k.Key, StringComparer.Ordinal);
        (_lookUp, CurrentId) = (lookUp, keys[^1].Id);
    }

    /// <summary>The key that encrypts from now on.</summary>
    public string CurrentId { get; }

    public int Count => _keys.Count;

    public static FieldKeys OfProcess => _ofProcess ?? throw new InvalidOperationException("The field keys were not read.");

    /// <summary>Keys read before stay readable.</summary>
    public static void Use(FieldKeys keys)
    {
        foreach (var (id, key) in _ofProcess?._keys ?? []) keys._keys.TryAdd(id, key);
        _ofProcess = keys;
    }

    /// <summary>The text as it is stored: <c>enc:key:base64url(nonce, ciphertext, tag)</c>.</summary>
    /// <param name="text">What is to be kept secret; null stays null.</param>
    /// <param name="column">The column it is stored in: in another it cannot be read.</param>
    public string? Encrypt(string? text, string column)
    {
        if (text is null) return null;
        return $"{Mark}{CurrentId}:{Base64Url.EncodeToString(Seal(Encoding.UTF8.GetBytes(text), Encoding.UTF8.GetBytes(column)))}";
    }

    /// <summary>The text of a stored value; one that was stored before there were keys is the text.</summary>
    /// <exception cref="CryptographicException">Its key is not in the file, it was changed, or it belongs to another column.</exception>
    public string? Decrypt(string? stored, string column)
    {
        if (stored is null || !stored.StartsWith(Mark, StringComparison.Ordinal)) return stored;
        var end = stored.IndexOf(':', Mark.Length);
        if (end < 0) return stored;
        return Encoding.UTF8.GetString(
            Open(stored[Mark.Length..end], Base64Url.DecodeFromChars(stored.AsSpan(end + 1)), Encoding.UTF8.GetBytes(column)));
    }

    /// <summary>Nonce, ciphertext, tag, under the current key.</summary>
    /// <param name="plain">What is to be kept secret.</param>
    /// <param name="place">Where it is stored: elsewhere it cannot be read.</param>
    public byte[] Seal(ReadOnlySpan<byte> plain, ReadOnlySpan<byte> place)
    {
        var stored = new byte[plain.Length + AddedBytes];
        var nonce = stored.AsSpan(0, NonceBytes);
        RandomNumberGenerator.Fill(nonce);
        using var aes = new AesGcm(_keys[CurrentId], TagBytes);
        aes.Encrypt(nonce, plain, stored.AsSpan(NonceBytes, plain.Length), stored.AsSpan(NonceBytes + plain.Length), place);
        return stored;
    }

    /// <exception cref="CryptographicException">The key is not in the file, or the bytes were changed or belong elsewhere.</exception>
    public byte[] Open(string keyId, ReadOnlySpan<byte> stored, ReadOnlySpan<byte> place)
    {
        if (!_keys.TryGetValue(keyId, out var key))
            throw new CryptographicException($"Field key '{keyId}' is not in the key file (Encryption:KeyFile).");
        if (stored.Length < AddedBytes) throw new CryptographicException("An encrypted value was cut short.");
        var plain = new byte[stored.Length - AddedBytes];
        using var aes = new AesGcm(key, TagBytes);
        aes.Decrypt(stored[..NonceBytes], stored[NonceBytes..^TagBytes], stored[^TagBytes..], plain, place);
        return plain;
    }

    /// <summary>The place of a piece of a submission's raw bytes.</summary>
    public static byte[] PlaceOf(Guid submission, int ordinal)
    {
        var place = new byte[20];
        submission.TryWriteBytes(place);
        BinaryPrimitives.WriteInt32BigEndian(place.AsSpan(16), ordinal);
        return place;
    }

    /// <summary>What an e-mail address is looked up by, whatever its case; null for none.</summary>
    public string? KeyOfEmail(string? address) =>
        address?.Trim() is { Length: > 0 } given ? KeyOf("e-mail", given.ToLowerInvariant()) : null;

    /// <summary>What a telephone number is looked up by: its digits, however they are grouped; null for none.</summary>
    public string? KeyOfPhone(string? number) =>
        number is not null && string.Concat(number.Where(char.IsAsciiDigit)) is { Length: > 0 } digits ? KeyOf("telephone", digits) : null;

    /// <summary>What a kept row is found by that names this card.</summary>
    public string KeyOfCard(string id) => KeyOf("card", id);

    /// <summary>What a kept row is found by that names this record number, of whatever site.</summary>
    public string KeyOfRecordNumber(string number) => KeyOf("record number", number);

    /// <summary>What a kept row is found by that states this birth date and mother, in the form names are compared in.</summary>
    public string KeyOfBirth(DateOnly day, string motherFamilyKey) =>
        KeyOf("birth", string.Create(CultureInfo.InvariantCulture, $"{day:yyyy-MM-dd} {motherFamilyKey}"));

    /// <summary>What kept texts of a column are compared by: equal for equal ones.</summary>
    public string KeyOfContent(string text) => KeyOf("content", text);

    /// <summary>What a screener of a site is known by elsewhere.</summary>
    public string KeyOfScreener(Guid site, string name) => KeyOf("screener", $"{site}/{name}");

    private string KeyOf(string kind, string value) =>
        Base64Url.EncodeToString(HMACSHA256.HashData(_lookUp, Encoding.UTF8.GetBytes($"{kind}\n{value}")));
}
