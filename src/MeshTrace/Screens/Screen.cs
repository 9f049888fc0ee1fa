using MeshTrace.Reports.Records;

namespace MeshTrace.Screens;

/// <summary>A thing that has a record: its kind and row.</summary>
internal readonly record struct RecordPlace(RecordKind Kind, int Row);

/// <summary>
/// One question and its answer: rows above, and the account of the selected row below. It decides what is shown; drawing is somebody else's. Rows
/// are worded when they are drawn, so that their number does not matter.
/// </summary>
internal abstract class Screen(Workspace workspace)
{
    private int _builtFor = -1;
    private int _selected;

    /// <summary>The word on the line of screens.</summary>
    public abstract string Name { get; }

    /// <summary>The question it answers.</summary>
    public abstract string Asks { get; }

    /// <summary>Rows it wants at least of the height that rows and account share, 0 to 1.</summary>
    public virtual double RowsShare => 0.5;

    /// <summary>What to say where there is no row.</summary>
    public string Nothing => Reason ?? (workspace.NothingOpened is { } why && !NeedsNoKey ? why : workspace.Only.IsNone ? None : "Nothing here of what is shown now: 'u' shows everything again.");

    /// <summary>Why there is no row yet, or null.</summary>
    protected abstract string? Reason { get; }

    /// <summary>What to say where the whole capture has no row.</summary>
    protected abstract string None { get; }

    /// <summary>It has rows too where no key opened anything.</summary>
    protected virtual bool NeedsNoKey => false;

    /// <summary>Keys of this screen alone.</summary>
    public abstract IReadOnlyList<KeyWord> Keys { get; }

    /// <summary>The marks that its rows use, for the help.</summary>
    public virtual IReadOnlyList<KeyWord> Marks => [];

    protected Workspace Workspace => workspace;

    public int RowCount
    {
        get
        {
            Refresh();
            return Count;
        }
    }

    public int Selected
    {
        get
        {
            Refresh();
            return Math.Clamp(_selected, 0, Math.Max(0, Count - 1));
        }
        set
        {
            Refresh();
            _selected = Math.Clamp(value, 0, Math.Max(0, Count - 1));
            if (Count > 0)
                OnSelected(_selected);
        }
    }

    /// <summary>Lines above the rows.</summary>
    public abstract IReadOnlyList<TextLine> Heading(int columns);

    /// <summary>A row in words, to be drawn after the mark of selection.</summary>
    public abstract TextLine Row(int row, int columns);

    /// <summary>Everything about the selected row.</summary>
    public abstract IReadOnlyList<TextLine> Account(int columns);

    /// <summary>The record of the selected thing, or null.</summary>
    public virtual RecordPlace? Record => null;

    /// <summary>The frame whose octets show the selected thing, or null.</summary>
    public virtual int? Frame => null;

    /// <summary>What 'only this' may narrow to from the selected row: key, words, narrowing.</summary>
    public virtual IReadOnlyList<(char Key, string Says, Narrowing Only)> Choices => [];

    /// <summary>Takes a key of its own; false where it has no use for it.</summary>
    public virtual bool Take(Stroke stroke) => false;

    /// <summary>A click on the selected row, at a column of what <see cref="Row"/> gave.</summary>
    public virtual void Click(int column)
    {
    }

    /// <summary>Comes to the front: goes to what was chosen elsewhere.</summary>
    public virtual void Enter()
    {
    }

    /// <summary>True if a row has the words looked for.</summary>
    public virtual bool Matches(int row, Words words) => false;

    protected abstract int Count { get; }

    /// <summary>Lists the rows again: more was read, or the narrowing changed.</summary>
    protected abstract void Build();

    /// <summary>Tells the workspace what is looked at.</summary>
    protected virtual void OnSelected(int row)
    {
    }

    /// <summary>Selects without telling the workspace.</summary>
    protected void Place(int row) => _selected = Math.Max(0, row);

    protected void Refresh()
    {
        if (_builtFor == workspace.Version)
            return;
        _builtFor = workspace.Version;
        Build();
    }

    /// <summary>A new history of the same run has come.</summary>
    /// <param name="following">Finds rows again.</param>
    /// <param name="chosen">The record selected before, or null.</param>
    /// <param name="selected">The row selected before.</param>
    public virtual void Follow(RowFollowing following, RecordPlace? chosen, int selected)
    {
        if (chosen is not { } before || following.Of(before) is not { } wanted)
            return;
        int guess = selected + wanted.Row - before.Row;
        for (int step = 0; step <= Math.Max(guess, RowCount); step++)
        {
            if (IsAt(guess - step, wanted) || IsAt(guess + step, wanted))
                return;
        }
        Place(selected);
    }

    private bool IsAt(int row, RecordPlace wanted)
    {
        if (row < 0 || row >= RowCount)
            return false;
        Place(row);
        return Record == wanted;
    }

    /// <summary>Lists the rows again at the next look.</summary>
    protected void Renew() => _builtFor = -1;
}
