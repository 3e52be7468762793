using System.Security.Cryptography;
using Registry.Platform.Database;
using Registry.Platform.EmbeddedPostgres;

namespace Registry.Platform.Encryption;

/// <summary>
/// The file of <see cref="FieldKeys"/> (<c>Encryption:KeyFile</c>): a line a key, <c>id base64</c>, 32 bytes each; the line <c>look-up</c>
/// is the one values are found by and never changes. In Development it is made in the data folder.
/// </summary>
public static class FieldKeyFile
{
    public const string Setting = "Encryption:KeyFile";
    private const string LookUp = "look-up";

    /// <summary>Reads the keys of this program.</summary>
    /// <exception cref="FieldKeyException">There is no file, or it cannot be read; the message says what to do.</exception>
    public static async Task<FieldKeys> LoadAsync(IConfiguration configuration, IHostEnvironment environment, CancellationToken ct)
    {
        if (configuration[Setting] is { Length: > 0 } file) return Read(file);
        if (!environment.IsDevelopment())
            throw new FieldKeyException($"Set {Setting} to the file of field keys. The verb 'keys new --out FILE' makes one: keep a copy "
                + "of it apart from the backups.");
        var own = Path.Combine(await DataFolderAsync(configuration, ct), "field-keys");
        if (!File.Exists(own)) CreateIfMissing(own);
        return Read(own);
    }

    /// <summary>Makes a file with a first key.</summary>
    /// <exception cref="IOException">There is one of that name: it is never written over.</exception>
    public static void Create(string file)
    {
        using var stream = new FileStream(file, Owned(FileMode.CreateNew));
        using var writer = new StreamWriter(stream);
        writer.WriteLine("# Keys of encrypted columns. The last one encrypts; a value names its key. Lost keys are lost values.");
        writer.WriteLine(Line(LookUp));
        writer.WriteLine(Line(NewId()));
    }

    /// <summary>Adds a key, which encrypts from the next start on.</summary>
    /// <returns>Its id.</returns>
    public static string Add(string file)
    {
        Read(file);
        var id = NewId();
        using var writer = new StreamWriter(new FileStream(file, Owned(FileMode.Append)));
        writer.WriteLine(Line(id));
        return id;
    }

    public static FieldKeys Read(string file)
    {
        string[] lines;
        try
        {
            lines = File.ReadAllLines(file);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new FieldKeyException($"The file of field keys '{file}' ({Setting}) cannot be read: {e.GetType().Name}.");
        }

        var keys = new List<(string Id, byte[] Key)>();
        byte[]? lookUp = null;
        foreach (var line in lines.Select(l => l.Trim()).Where(l => l.Length > 0 && l[0] != '#'))
        {
            var parts = line.Split(' ', StringSplitOptions.RemoveEmptyEntries);
            var key = new byte[32];
            if (parts.Length != 2 || !Convert.TryFromBase64String(parts[1], key, out var length) || length != 32
                || parts[0].Contains(':', StringComparison.Ordinal) || keys.Any(k => k.Id == parts[0]))
                throw new FieldKeyException($"The file of field keys '{file}' has a line that is no key; each reads: id base64, 32 bytes.");
            if (parts[0] == LookUp) lookUp = key;
            else keys.Add((parts[0], key));
        }

        return lookUp is null || keys.Count == 0
            ? throw new FieldKeyException($"The file of field keys '{file}' needs a line '{LookUp}' and a key at least.")
            : new(keys, lookUp);
    }

    private static string Line(string id) => $"{id} {Convert.ToBase64String(RandomNumberGenerator.GetBytes(32))}";

    private static string NewId() => $"k{Convert.ToHexStringLower(RandomNumberGenerator.GetBytes(6))}";

    /// <summary>Two programs may start at the same moment: whole or not at all, and the first one's.</summary>
    private static void CreateIfMissing(string file)
    {
        var made = $"{file}.{Guid.NewGuid():n}";
        Create(made);
        try
        {
            File.Move(made, file, overwrite: false);
        }
        catch (IOException) when (File.Exists(file))
        {
            File.Delete(made);
        }
    }

    private static async Task<string> DataFolderAsync(IConfiguration configuration, CancellationToken ct)
    {
        var embedded = configuration.GetSection(DatabaseOptions.Section).Get<DatabaseOptions>()?.Embedded ?? new();
        var folder = DataFolder.Choose(embedded.DataFolder, await ServerAccount.ChooseAsync(embedded.RunAs, ct)).Root;
        Directory.CreateDirectory(folder);
        return folder;
    }

    private static FileStreamOptions Owned(FileMode mode)
    {
        var options = new FileStreamOptions { Mode = mode, Access = FileAccess.Write };
        if (!OperatingSystem.IsWindows() && mode == FileMode.CreateNew)
            options.UnixCreateMode = UnixFileMode.UserRead | UnixFileMode.UserWrite;
        return options;
    }
}

/// <summary>There are no field keys; the message says what to do.</summary>
public sealed class FieldKeyException(string message) : Exception(message);
