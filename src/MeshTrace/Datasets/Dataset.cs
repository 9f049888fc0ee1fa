using MeshTrace.Analysis.History;
using MeshTrace.Commands;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Tables;

namespace MeshTrace.Datasets;

/// <summary>
/// A folder of tables from many captures: <c>press/capture=NAME/part-0.parquet</c> and so on. A capture is made aside and its files are moved to their
/// places, the row in the table <c>capture</c> and the stamp last: what has a stamp is whole, whenever the work was cut off. Several processes may
/// work on different captures of one dataset at the same time.
/// </summary>
internal sealed class Dataset(string folder)
{
    private const string File0 = "part-0.parquet", Partition = "capture=";

    // Readers of datasets pass over names that begin with an underscore.
    private const string Stamps = "_manifest", Aside = "_new";

    /// <summary>Results that a stamp tells.</summary>
    public const string Decoded = "decoded", Damaged = "damaged", NothingDecoded = "nothing-decoded";

    /// <summary>Makes the folder.</summary>
    /// <exception cref="UserErrorException">It cannot be written to.</exception>
    public void Check()
    {
        try
        {
            Directory.CreateDirectory(Path.Combine(folder, Stamps));
            Directory.CreateDirectory(Path.Combine(folder, Aside));
        }
        catch (Exception problem) when (TableFolder.IsOfTheDisk(problem))
        {
            throw TableFolder.CannotWrite(folder, problem);
        }
    }

    /// <summary>The result of a capture whose partition stands and serves; null where it is still to be made. What decoded nothing is tried again: keys may have come.</summary>
    public string? ResultOf(FoundCapture capture, CaptureStamp now)
    {
        try
        {
            CaptureStamp? stamp = CaptureStamp.Read(File.ReadAllBytes(StampOf(capture)), out string? result);
            return stamp?.Serves(now) == true && result != NothingDecoded ? result : null;
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
        {
            return null;
        }
    }

    /// <summary>Writes everything of a capture.</summary>
    /// <exception cref="UserErrorException">It cannot be written.</exception>
    /// <exception cref="OperationCanceledException">Stopped; what the dataset held of this capture before is still there.</exception>
    public void Write(FoundCapture capture, CaptureStamp stamp, string result, CaptureHistory history, TablesWriter tables, CancellationToken stop)
    {
        string aside = Path.Combine(folder, Aside, PartitionName.Of(capture.Name));
        try
        {
            Directory.CreateDirectory(aside);
            foreach (RecordKind kind in tables.Kinds)
                TableFolder.WriteFile(Path.Combine(aside, RecordKinds.NameOf(kind)), overwrite: true, output => tables.Write(kind, output, stop: stop));
            TableFolder.WriteFile(Path.Combine(aside, CaptureTable.Name), overwrite: true, output => CaptureTable.Write(output, capture, stamp, result, history));
            Forget(capture);
            foreach (RecordKind kind in tables.Kinds)
                Place(aside, RecordKinds.NameOf(kind), capture);
            Place(aside, CaptureTable.Name, capture);
            TableFolder.WriteFile(StampOf(capture), overwrite: true, output => stamp.Write(output, result));
            Directory.Delete(aside, recursive: true);
        }
        catch (Exception problem) when (TableFolder.IsOfTheDisk(problem))
        {
            throw TableFolder.CannotWrite(folder, problem);
        }
    }

    /// <summary>Takes away what the dataset held of a capture: its stamp and its row first, then also tables that are not made anew.</summary>
    private void Forget(FoundCapture capture)
    {
        File.Delete(StampOf(capture));
        foreach (string table in RecordKinds.All.Select(RecordKinds.NameOf).Prepend(CaptureTable.Name))
        {
            string place = PlaceOf(table, capture);
            if (File.Exists(place))
                File.Delete(place);
        }
    }

    private void Place(string aside, string table, FoundCapture capture)
    {
        string place = PlaceOf(table, capture);
        Directory.CreateDirectory(Path.GetDirectoryName(place)!);
        File.Move(Path.Combine(aside, table), place, overwrite: true);
    }

    private string PlaceOf(string table, FoundCapture capture) => Path.Combine(folder, table, Partition + PartitionName.Of(capture.Name), File0);

    private string StampOf(FoundCapture capture) => Path.Combine(folder, Stamps, PartitionName.Of(capture.Name) + ".json");
}
