using Registry.Platform.Database;

namespace Registry.Operations.Checks;

/// <summary>How much room is left where this program writes.</summary>
internal static class FreeDisk
{
    /// <summary>The data folder where one is set, else the folder of temporary files.</summary>
    public static (string Folder, long? FreeMebibytes) Here(IConfiguration configuration)
    {
        var set = configuration.GetSection(DatabaseOptions.Section).Get<DatabaseOptions>()?.Embedded.DataFolder;
        var folder = Path.GetFullPath(set is { Length: > 0 } data && Directory.Exists(data) ? data : Path.GetTempPath());
        try
        {
            return (folder, new DriveInfo(folder).AvailableFreeSpace / 1_048_576);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or ArgumentException)
        {
            return (folder, null);
        }
    }
}
