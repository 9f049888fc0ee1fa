using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Tables;

namespace MeshTrace.Commands;

/// <summary>A folder that tables are written into, one file a record kind. A file gets its name only when it is whole.</summary>
internal sealed class TableFolder(string folder, TableForm form, bool overwrite, Surroundings surroundings)
{
    private const int BufferOctets = 1 << 16;
    private const string ContractName = "contract.json", Unfinished = ".part";

    /// <summary>Makes the folder, and finds out before the analysis whether the tables can go there.</summary>
    /// <exception cref="UserErrorException">They cannot, or stand there already.</exception>
    public void Check(IReadOnlyList<RecordKind> kinds, IReadOnlyList<string> captures)
    {
        try
        {
            Directory.CreateDirectory(folder);
            string probe = Path.Combine(folder, ContractName + Unfinished);
            File.Create(probe).Dispose();
            File.Delete(probe);
        }
        catch (Exception problem) when (IsOfTheDisk(problem))
        {
            throw CannotWrite(folder, problem);
        }
        foreach (string name in kinds.Select(kind => TablesWriter.FileName(kind, form)).Append(ContractName))
        {
            string file = Path.Combine(folder, name);
            InputFile.RefuseOverwriting(file, captures);
            if (!overwrite && Path.Exists(file))
                throw new UserErrorException(ExitCode.Unwritable, $"{InputFile.Shown(file)} stands there already", "Name another folder, or let it be replaced with --overwrite.");
        }
    }

    /// <summary>Writes all tables that are wanted, and the contract beside them.</summary>
    /// <exception cref="UserErrorException">One of them cannot be written.</exception>
    /// <exception cref="OperationCanceledException">Stopped; tables that were whole stay.</exception>
    public void Write(CaptureHistory history, RecordsSettings settings, CancellationToken stop)
    {
        var tables = new TablesWriter(history, settings, form);
        using var progress = new ProgressLine(surroundings);
        long before = 0, total = tables.Total;
        foreach (RecordKind kind in tables.Kinds)
        {
            long written = 0;
            WriteFile(Path.Combine(folder, TablesWriter.FileName(kind, form)), overwrite, output => tables.Write(kind, output, count =>
            {
                written = count;
                progress.Tell("writing", before + count, total, "records");
            }, stop));
            before += written;
        }
        WriteFile(Path.Combine(folder, ContractName), overwrite, tables.WriteContract);
        Warn(tables, surroundings);
    }

    /// <summary>Says so where cells were left empty.</summary>
    public static void Warn(TablesWriter tables, Surroundings surroundings)
    {
        if (tables.CellsTooLong == 0)
            return;
        surroundings.Error.WriteLine($"meshtrace: {tables.CellsTooLong} lists of more than {TablesWriter.LongestCell >> 20} MiB were left out of their cells.");
        surroundings.Error.WriteLine("What to do: write those records with --as jsonl, which holds them whole.");
    }

    /// <summary>Writes a file under a passing name, and gives it its own when it is whole.</summary>
    /// <exception cref="UserErrorException">It cannot be written.</exception>
    public static void WriteFile(string file, bool overwrite, Action<Stream> write)
    {
        string unfinished = file + Unfinished;
        bool whole = false;
        try
        {
            using (var output = new FileStream(unfinished, FileMode.Create, FileAccess.ReadWrite, FileShare.Read, BufferOctets))
                write(output);
            File.Move(unfinished, file, overwrite);
            whole = true;
        }
        catch (Exception problem) when (IsOfTheDisk(problem))
        {
            throw CannotWrite(file, problem);
        }
        finally
        {
            if (!whole)
                Forget(unfinished);
        }
    }

    private static void Forget(string file)
    {
        try
        {
            File.Delete(file);
        }
        catch (Exception problem) when (IsOfTheDisk(problem))
        {
            // What went wrong before is told; a rest that cannot be removed either is not worse.
        }
    }

    /// <summary>True for what goes wrong with files and folders.</summary>
    public static bool IsOfTheDisk(Exception problem) => problem is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException;

    public static UserErrorException CannotWrite(string file, Exception problem) =>
        new(ExitCode.Unwritable, $"{InputFile.Shown(file)} cannot be written: {SafeText.Strip(problem.Message.TrimEnd('.'), 200)}",
            "Check the folder, its permissions and the space on the disk.", problem);
}
